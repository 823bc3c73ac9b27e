"""A table of runs: a row a run, a column a numeric key of the case file.

Keys stand with a unit, ``hole.diameter [mm]``, or without one where cells have theirs, ``6 mm``.
"""

from __future__ import annotations

from pathlib import Path

from sinkbowl.case.keys import numeric_key
from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.table import Heading, read_table

LARGEST_FILE = 1_000_000
"""A table longer than this [bytes] is something else."""

COLUMNS = "Name the keys in the first line, e.g. hole.diameter [mm], then write one line per run."


def read_runs(path: Path) -> list[dict[str, str]]:
    """Rows of a table of runs: dotted key and value with its unit.

    Raises
    ------
    CaseError : the file is missing or no table, a column is no numeric key or stands there twice,
        or a row has another number of cells
    """
    table = read_table(path, LARGEST_FILE, "a table of runs", COLUMNS)
    for heading in table.headings:
        _check_key(heading, path)
    names = [heading.name for heading in table.headings]
    if len(set(names)) < len(names):
        raise CaseError("Names a key twice", file=path, allowed="Give each key one column.")
    return [
        {
            heading.name: f"{table.number_text(cell)} {heading.unit}".strip()
            for heading, cell in zip(table.headings, line.cells, strict=True)
        }
        for line in table.lines
    ]


def _check_key(heading: Heading, path: Path) -> None:
    try:
        numeric_key(heading.name)
    except InputRefused as error:
        raise CaseError(str(error), file=path, key=heading.written, allowed=error.allowed) from None
