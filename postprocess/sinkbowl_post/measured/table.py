"""A measured table as text: columns named with their units, cells turned into SI numbers.

Comma, semicolon or tab between the cells (with the latter two a decimal comma is understood);
lines that begin with # are remarks. The first other line names the columns, ``hole [mm]``. Every
refusal says file, row as a spreadsheet counts it, column, what stands there and what is allowed.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from sinkbowl.case.units import Kind, read_quantity
from sinkbowl.errors import CaseError, InputRefused
from sinkbowl.text_file import neighbours, read_text

LARGEST_FILE = 5_000_000
"""A table longer than this [bytes] is something else."""

HEADING = re.compile(r"^(?P<name>[^\[\](){}]+?)\s*(?:[\[(]\s*(?P<unit>[^\])]*?)\s*[\])])?$")
SEPARATORS = (";", "\t", ",")


@dataclass(frozen=True)
class Row:
    """One line of cells, asked by the names of its columns.

    Attributes
    ----------
    path, number : file, and line in it counted from 1
    cells : text of each column
    units : unit of each column
    """

    path: Path
    number: int
    cells: Mapping[str, str]
    units: Mapping[str, str]

    def number_of(self, column: str, kind: Kind) -> float | None:
        """SI number in a column; None where the column or the cell is empty.

        Raises
        ------
        CaseError : no number, or none that the kind allows
        """
        cell = self.cells.get(column, "")
        if not cell:
            return None
        unit = self.units[column]
        allowed = f"Allowed is {kind.name} from {kind.low} to {kind.high}"
        try:
            float(cell)
        except ValueError:
            raise self.refused(
                column, "is not a number", f"{allowed}; write the number alone, in {unit}."
            ) from None
        try:
            return read_quantity(f"{cell} {unit}", kind)
        except InputRefused as error:
            raise self.refused(column, str(error), f"{allowed}.") from None

    def wanted(self, column: str, kind: Kind) -> float:
        """SI number in a column that must not be empty."""
        number = self.number_of(column, kind)
        if number is None:
            raise self.refused(column, "is empty", f"Write {kind.name}, in {self.units[column]}.")
        return number

    def refused(self, column: str, message: str, allowed: str) -> CaseError:
        """Error about one cell."""
        given: object = self.cells.get(column, "")
        if column in self.units:
            given = f"{given} {self.units[column]}".strip()
        key = f"row {self.number}, {column}"
        return CaseError(message, file=self.path, key=key, given=given, allowed=allowed)


def read_rows(path: Path, columns: Mapping[str, Kind | None]) -> list[Row]:
    """Rows of a table whose columns are among those known.

    Parameters
    ----------
    columns : every column that a table may have, with its kind, None for words

    Raises
    ------
    CaseError : the file is missing or no table, a column is unknown, twice there or has no unit,
        or a row has another number of cells
    """
    lines = _lines(path)
    first = next(lines, None)
    if first is None:
        raise CaseError("Holds no table", file=path, allowed=_what_columns(columns))
    number, text = first
    separator = next((mark for mark in SEPARATORS if mark in text), ",")
    headings = _cells(text, separator)
    while not headings[-1] and len(headings) > 1:
        headings.pop()
    units = _headings(path, number, headings, columns)
    split = ((number, _cells(text, separator)) for number, text in lines)
    rows = [
        _row(path, number, cells, units, separator != ",") for number, cells in split if any(cells)
    ]
    if not rows:
        raise CaseError("Has a heading but no rows", file=path, allowed="Add one row a trial.")
    return rows


def _row(
    path: Path, number: int, cells: list[str], units: Mapping[str, str], decimal_comma: bool
) -> Row:
    """Cells under their headings; empty ones at the end of a line do not count."""
    while len(cells) > len(units) and not cells[-1]:
        cells.pop()
    if len(cells) != len(units):
        raise CaseError(
            f"Row {number} has {len(cells)} cells, the heading has {len(units)}",
            file=path,
            allowed="A decimal comma needs semicolons between the cells.",
        )
    named = dict(zip(units, cells, strict=True))
    with_unit = {column: unit for column, unit in units.items() if unit}
    if decimal_comma:
        named |= {column: named[column].replace(",", ".") for column in with_unit}
    return Row(path, number, named, with_unit)


def _lines(path: Path) -> Iterator[tuple[int, str]]:
    """Lines that say something, with their number."""
    try:
        text = read_text(path, LARGEST_FILE, "a measured table")
    except InputRefused as error:
        allowed = error.allowed or neighbours(path, "*.csv")
        raise CaseError(f"It {error}", file=path, allowed=allowed or None) from None
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.lstrip().startswith(("#", '"#')):
            yield number, line


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]


def _headings(
    path: Path, number: int, cells: list[str], columns: Mapping[str, Kind | None]
) -> dict[str, str]:
    """Unit of each column by its name, "" for words, in the order of the file."""
    units: dict[str, str] = {}
    for cell in cells:
        match = HEADING.match(cell)
        name = re.sub(r"[\s_-]+", "_", match["name"].strip().lower()) if match else cell
        if name not in columns:
            near = difflib.get_close_matches(name, columns, n=1)
            asked = f"Did you mean {near[0]}? " if near else ""
            raise CaseError(
                "is no column of a measured table",
                file=path,
                key=f"row {number}, heading",
                given=cell,
                allowed=asked + _what_columns(columns),
            )
        if name in units:
            raise CaseError(f"Has the column {name} twice", file=path)
        units[name] = _unit(path, number, cell, match["unit"] if match else None, columns[name])
    return units


def _unit(path: Path, number: int, cell: str, unit: str | None, kind: Kind | None) -> str:
    if kind is None:
        return ""
    key, example = f"row {number}, heading", kind.example.split(maxsplit=1)[1]
    allowed = f"Write {kind.name} with its unit in brackets, e.g. [{example}]."
    if not unit:
        raise CaseError("has no unit", file=path, key=key, given=cell, allowed=allowed)
    anything = replace(kind, low=f"-1e30 {kind.unit}", high=f"1e30 {kind.unit}")
    try:
        read_quantity(f"1 {unit}", anything)
    except InputRefused as error:
        raise CaseError(str(error), file=path, key=key, given=cell, allowed=allowed) from None
    return unit


def _what_columns(columns: Mapping[str, Kind | None]) -> str:
    shown = [f"{name} [{kind.unit}]" if kind else name for name, kind in columns.items()]
    return f"The heading names the columns, with units: {', '.join(shown)}."
