"""Arguments and options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file, TOML.")]
ResultFile = Annotated[Path, typer.Argument(metavar="RESULT", help="Result file, HDF5.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the figures as JSON.")]
Heading = Annotated[
    str | None, typer.Option("--title", help="Heading of the figure; default: its own.")
]
Figures = Annotated[
    list[Path] | None,
    typer.Option("--output", "-o", help="Figure to write, .png, .svg or .pdf; may be repeated."),
]
