"""``sinkbowl size``."""

from __future__ import annotations

from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, CaseFile
from sinkbowl_post.pages.json_text import json_text
from sinkbowl_post.pages.telling import tell


def size(
    case: CaseFile,
    time: Annotated[str, typer.Option(help='Wanted until the rim is under, e.g. "5 min".')],
    by: Annotated[str, typer.Option(help="What is sought: hole or ballast.")] = "hole",
    model: Annotated[
        str, typer.Option(help="To turn round: corrected, heave or quasi-static.")
    ] = "corrected",
    as_json: AsJson = False,
) -> None:
    """Find the hole, or the ballast, for a wanted time.

    Gives the nearest drills as well, and what their tolerance costs.

    Example: sinkbowl size my-bowl.toml --time "5 min"
    """
    from sinkbowl.before.sizing.sizing import size as size_case
    from sinkbowl.case.case import load_case
    from sinkbowl_post.pages.arguments import SINKING_TIME, read_option

    wanted = read_option("--time", time, SINKING_TIME)
    sized = size_case(load_case(case), wanted, by, model)
    tell(json_text(sized.as_dict()) if as_json else repr(sized))
