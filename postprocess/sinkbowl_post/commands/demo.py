"""``sinkbowl demo``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.pages.printing import print_out


def demo(
    folder: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Folder to create; default: sinkbowl-demo."),
    ] = None,
) -> None:
    """Check, run, compare and film a shipped bowl.

    Example: sinkbowl demo
    """
    from sinkbowl_post.demo import run_demo

    run_demo(folder, print_out)
