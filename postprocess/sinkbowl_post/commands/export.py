"""``sinkbowl export``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import Comma, ResultFile
from sinkbowl_post.pages.printing import print_out


def export(
    result: ResultFile,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="File to write: .csv, .vtu or .xdmf.")
    ],
    frame: Annotated[
        int | None, typer.Option(help="Only this frame, counted from 0; negative from the end.")
    ] = None,
    time: Annotated[
        list[str] | None,
        typer.Option(
            help='Only the frame nearest to "0.5 s", or all in "0.2 s:0.6 s"; may be repeated.'
        ),
    ] = None,
    revolve: Annotated[
        int | None,
        typer.Option(help="Revolve the section about the axis, in this many sectors: 3-D cells."),
    ] = None,
    comma: Comma = False,
) -> None:
    """Write a run for other programs.

    .csv: the history as a table. .vtu, .xdmf: water, pressure and velocity on the section's cells,
    x = r; several .vtu frames get numbers and an index .pvd. Cells at the wall end where it does,
    as polygons in .vtu and as triangles in .xdmf.

    Example: sinkbowl export my-bowl.h5 -o my-bowl.csv

    Example: sinkbowl export my-bowl.h5 -o jet.vtu --time "0.2 s" --revolve 36
    """
    from sinkbowl.files.result import read_result
    from sinkbowl_post.exporting.export import export as export_result

    text = export_result(
        read_result(result), output, frame, times=tuple(time or ()), sectors=revolve, comma=comma
    )
    print_out(f"{output}: {text}")
