"""A table of runs: a row a run, a column a key of the case file.

Comma, semicolon or tab between the cells (with the latter two a decimal comma is understood); lines
that begin with # are remarks. The first other line names the keys, with a unit, ``hole.diameter
[mm]``, or without one where the cells carry theirs, ``6 mm``.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

from sinkbowl.case.keys import numeric_key
from sinkbowl.errors import CaseError, InputRefused
from sinkbowl.text_file import read_text

HEADING = re.compile(r"^(?P<key>[\w.]+)\s*(?:[\[(]\s*(?P<unit>[^\])]*?)\s*[\])])?$")
LARGEST_FILE = 1_000_000
"""A table longer than this [bytes] is something else."""


def read_runs(path: Path) -> list[dict[str, str]]:
    """Rows of a table of runs: dotted key and value with its unit.

    Raises
    ------
    CaseError : the file is missing or no table, a column is no numeric key, or a row has another
        number of cells
    """
    lines = _lines(path)
    if len(lines) < 2:
        raise CaseError(
            "Holds no runs",
            file=path,
            allowed="Name the keys in the first line, then a line a run.",
        )
    separator = next((mark for mark in (";", "\t", ",") if mark in lines[0]), ",")
    headings, *rows = (
        [cell.strip() for cell in row] for row in csv.reader(lines, delimiter=separator)
    )
    columns = [_column(heading, path) for heading in headings]
    if len({key for key, _ in columns}) < len(columns):
        raise CaseError("Names a key twice", file=path, allowed="Give each key one column.")
    found = []
    for number, row in enumerate(rows, start=2):
        if len(row) != len(columns):
            raise CaseError(
                f"Row {number} of the table has {len(row)} cells, its first has {len(columns)}",
                file=path,
            )
        cells = row if separator == "," else [cell.replace(",", ".") for cell in row]
        found.append(
            {
                key: f"{cell} {unit}".strip()
                for (key, unit), cell in zip(columns, cells, strict=True)
            }
        )
    return found


def _lines(path: Path) -> list[str]:
    """Lines that are neither empty nor remarks."""
    if not path.is_file():
        raise CaseError("There is no such file", file=path, allowed="Give a CSV table of runs.")
    try:
        text = read_text(path, LARGEST_FILE, "a table of runs")
    except InputRefused as error:
        raise CaseError(f"It {error}", file=path, allowed=error.allowed or None) from None
    return [line for line in text.splitlines() if line.strip() and line.lstrip()[0] != "#"]


def _column(heading: str, path: Path) -> tuple[str, str]:
    """Key and unit that a heading names."""
    match = HEADING.match(heading)
    key = match["key"] if match else heading
    try:
        numeric_key(key)
    except InputRefused as error:
        raise CaseError(str(error), file=path, key=heading, allowed=error.allowed) from None
    return key, (match["unit"] or "") if match else ""
