"""``sinkbowl export``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import ResultFile


def export(
    result: ResultFile,
    output: Annotated[Path, typer.Option("--output", "-o", help="Table to write, .csv.")],
) -> None:
    """Write the history of a run as a table.

    Example: sinkbowl export my-bowl.h5 -o my-bowl.csv
    """
    from sinkbowl.running.result import read_result
    from sinkbowl_post.export import export_history

    rows = export_history(read_result(result), output)
    typer.echo(f"{output}: {rows} time steps")
