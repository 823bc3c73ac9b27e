"""Arguments, options and kinds of quantities common to several commands."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.text_file import as_text
from sinkbowl.common.units import Kind


def _readable(given: str | None) -> str | None:
    return None if given is None else as_text(given)


CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file, TOML.")]
ResultFile = Annotated[Path, typer.Argument(metavar="RESULT", help="Result file, HDF5.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the results as JSON.")]
Heading = Annotated[
    str | None,
    typer.Option("--title", callback=_readable, help="Title of the figure; default: its own."),
]
Comma = Annotated[
    bool,
    typer.Option("--comma", help="Write decimal commas, and ; between the cells of .csv."),
]
Figures = Annotated[
    list[Path] | None,
    typer.Option("--output", "-o", help="Figure to write, .png, .svg or .pdf; may be repeated."),
]


HEIGHT_WISHED = Kind("a metacentric height", "m", "-1 m", "1 m", "1 mm")
RING_STEP = Kind("a mass", "kg", "0.1 g", "10 kg", "10 g")
DIFFERENCE = Kind("a time", "s", "0.1 ms", "1000 hour", "50 ms")
