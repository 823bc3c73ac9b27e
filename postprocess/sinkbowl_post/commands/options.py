"""Arguments and options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file, TOML.")]
ResultFile = Annotated[Path, typer.Argument(metavar="RESULT", help="Result file, HDF5.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the figures as JSON.")]
Figures = Annotated[
    list[Path] | None,
    typer.Option("--output", "-o", help="Figure to write, .png or .svg; may be repeated."),
]
