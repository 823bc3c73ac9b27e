"""Arguments and options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.text_file import as_text


def _readable(given: str | None) -> str | None:
    return None if given is None else as_text(given)


CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file, TOML.")]
ResultFile = Annotated[Path, typer.Argument(metavar="RESULT", help="Result file, HDF5.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the figures as JSON.")]
Heading = Annotated[
    str | None,
    typer.Option("--title", callback=_readable, help="Heading of the figure; default: its own."),
]
Comma = Annotated[
    bool,
    typer.Option("--comma", help="Decimal commas in what is written; .csv then with ; between."),
]
Figures = Annotated[
    list[Path] | None,
    typer.Option("--output", "-o", help="Figure to write, .png, .svg or .pdf; may be repeated."),
]
