"""``sinkbowl check``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl_post.commands.options import AsJson, CaseFile
from sinkbowl_post.pages.json_text import json_text


def check(
    case: CaseFile,
    spread: Annotated[
        bool, typer.Option("--spread", help="How far off the time can be, and what owns that.")
    ] = False,
    model: Annotated[
        str | None,
        typer.Option(help="With --spread: heave, quasi-static or falling; default: heave."),
    ] = None,
    difference: Annotated[
        str | None,
        typer.Option(help='With --spread: repeats that show this difference, e.g. "50 ms".'),
    ] = None,
    figure: Annotated[
        Path | None,
        typer.Option(help="Picture of centres and stability, .png, .svg or .pdf."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Trial sheet to print and take to the tub, .pdf.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tell beforehand whether it sinks, starts, stays upright.

    Example: sinkbowl check my-bowl.toml --spread --sheet my-bowl.pdf
    """
    from sinkbowl.before.check_page import check_page
    from sinkbowl.before.checking import check as check_case
    from sinkbowl.case.case import load_case
    from sinkbowl_post.check.papers import check_papers, write_papers
    from sinkbowl_post.pages.arguments import DIFFERENCE, read_option

    check_papers(figure, sheet)
    for option, given in (("--model", model), ("--difference", difference)):
        if given is not None and not spread:
            raise CaseError("belongs to --spread", key=option, given=given, allowed="Give both.")
    apart = None if difference is None else read_option("--difference", difference, DIFFERENCE)
    loaded = load_case(case)
    budget = None
    if spread:
        from sinkbowl.before.budget.spread import spread as spread_case
        from sinkbowl_post.pages.progress import step_bar

        with step_bar("spread") as show:
            budget = spread_case(loaded, model or "heave", apart, show).as_dict()
    figures = check_case(loaded).as_dict()
    written = write_papers(loaded, figure, sheet)
    if as_json:
        typer.echo(json_text(figures if budget is None else {**figures, "spread": budget}))
        return
    typer.echo(check_page(figures))
    if budget is not None:
        from sinkbowl_post.pages.spread_page import spread_page

        typer.echo("\n" + spread_page(budget))
    if written:
        typer.echo(f"\nwritten: {', '.join(map(str, written))}")
