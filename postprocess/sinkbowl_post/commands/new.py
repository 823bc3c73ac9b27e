"""``sinkbowl new``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl_post.pages.printing import print_out


def new(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file to write.")],
    shape: Annotated[
        str, typer.Option(help="Shape of the bowl: cup, cone, cap or profile.")
    ] = "cup",
) -> None:
    """Write a commented case to start from.

    Example: sinkbowl new my-bowl.toml --shape cone
    """
    from sinkbowl.case.starter import STARTER_OUTLINE, starter_case
    from sinkbowl_post.output import write_whole

    texts = {case: starter_case(shape)}
    if shape == "profile":
        texts[case.parent / "outline.csv"] = STARTER_OUTLINE
    for path in texts:
        if path.exists():
            raise CaseError("Exists already", file=path, allowed="Give another name or folder.")
        if not path.parent.is_dir():
            raise CaseError("Its folder does not exist", file=path, allowed="Create it first.")
    for path, text in texts.items():
        write_whole(path, text.encode())
    print_out(f"{', '.join(map(str, texts))}: written. Next: sinkbowl check {case}")
