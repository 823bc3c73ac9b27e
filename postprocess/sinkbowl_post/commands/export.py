"""``sinkbowl export``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import ResultFile


def export(
    result: ResultFile,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="File to write: .csv, .vtu or .xdmf.")
    ],
    frame: Annotated[
        int | None, typer.Option(help="Only this frame, from 0, negative from the end.")
    ] = None,
) -> None:
    """Write a run for other programs.

    .csv: the history as a table. .vtu, .xdmf: water, pressure and velocity on the section's cells,
    x = r; several .vtu frames get numbers and an index .pvd.

    Example: sinkbowl export my-bowl.h5 -o my-bowl.csv
    """
    from sinkbowl.running.result import read_result
    from sinkbowl_post.export.export import export as export_result

    typer.echo(f"{output}: {export_result(read_result(result), output, frame)}")
