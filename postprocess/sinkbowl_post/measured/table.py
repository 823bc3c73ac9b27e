"""Measured tables: columns with kinds of quantities, cells as SI numbers.

Every message gives file, row, column, content and what is allowed.
"""

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.text_file import Heading, Table, read_table
from sinkbowl.common.units import Kind, read_quantity

LARGEST_FILE = 5_000_000  # largest table [bytes]


NUMBER_ALONE = re.compile(
    r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?|[+-]?nan|[+-]?inf(?:inity)?", re.IGNORECASE
)
"""A cell without a unit of its own."""


@dataclass(frozen=True)
class Row:
    """One line of cells, accessed by column names.

    path, number : file, and its line, from 1
    cells : text of each column
    units : unit of each column
    """

    path: Path
    number: int
    cells: Mapping[str, str]
    units: Mapping[str, str]

    def number_of(self, column: str, kind: Kind) -> float | None:
        """SI number in a column; None if column or cell is empty.

        Raises CaseError if it is not a number, or out of the kind's range.
        """
        cell = self.cells.get(column, "")
        if not cell:
            return None
        unit = self.units[column]
        allowed = f"Allowed is {kind.name} from {kind.low} to {kind.high}"
        bare = NUMBER_ALONE.fullmatch(cell)
        try:
            return read_quantity(f"{cell} {unit}" if bare else cell, kind)
        except InputRefused as error:
            hint = f"{allowed}." if bare else f"{allowed}; write the number alone, in {unit}."
            hint = error.allowed if "comma" in str(error) else hint
            raise self.refused(column, str(error), hint) from None

    def wanted(self, column: str, kind: Kind) -> float:
        """SI number in a column that must not be empty."""
        number = self.number_of(column, kind)
        if number is None:
            raise self.refused(column, "is empty", f"Write {kind.name}, in {self.units[column]}.")
        return number

    def refused(self, column: str, message: str, allowed: str) -> CaseError:
        """Error about one cell."""
        cell = self.cells.get(column, "")
        given = f"{cell} {self.units.get(column, '')}".strip() if cell else None
        key = f"{place_words(self.number, self.cells.get('no.', ''))}, {column}"
        return CaseError(message, file=self.path, key=key, given=given, allowed=allowed)


def place_words(row: int, number: str) -> str:
    """A row of the file, with the sheet's own number if it has one: 'row 7 (no. 3)'."""
    return f"row {row} (no. {number})" if number else f"row {row}"


def read_rows(path: Path, columns: Mapping[str, Kind | None]) -> list[Row]:
    """Rows of a table with known columns.

    columns : all possible columns, with kind, None for texts

    Raises CaseError if the file is missing or not a table, a column is unknown, given twice or has
    no unit, or a row has another number of cells.
    """
    table = read_table(path, LARGEST_FILE, "a measured table", _what_columns(columns))
    units = _units(table, columns)
    with_unit = {column: unit for column, unit in units.items() if unit}
    rows = []
    for line in table.lines:
        named = dict(zip(units, line.cells, strict=True))
        named |= {column: table.number_text(named[column]) for column in with_unit}
        rows.append(Row(path, line.number, named, with_unit))
    return rows


def read_units(path: Path, columns: Mapping[str, Kind | None]) -> dict[str, str]:
    """Unit of each column of a table, perhaps without rows, "" for texts; errors as `read_rows`."""
    words = _what_columns(columns)
    table = read_table(path, LARGEST_FILE, "a measured table", words, rows_needed=False)
    return _units(table, columns)


def _units(table: Table, columns: Mapping[str, Kind | None]) -> dict[str, str]:
    """Unit of each column by name, "" for texts, in the order of the file."""
    units: dict[str, str] = {}
    for heading in table.headings:
        name = re.sub(r"[\s_-]+", "_", heading.name.lower())
        name = next((known for known in columns if known.rstrip(".") == name.rstrip(".")), name)
        if name not in columns:
            near = difflib.get_close_matches(name, columns, n=1)
            asked = f"Did you mean {near[0]}? " if near else ""
            raise CaseError(
                "is not a column of a measured table",
                file=table.path,
                key=f"row {table.row}, heading",
                given=heading.written,
                allowed=asked + _what_columns(columns),
            )
        if name in units:
            raise CaseError(f"Has the column {name} twice", file=table.path)
        units[name] = _unit(table, heading, columns[name])
    return units


def _unit(table: Table, heading: Heading, kind: Kind | None) -> str:
    if kind is None:
        return ""
    file, key, given = table.path, f"row {table.row}, heading", heading.written
    example = kind.example.split(maxsplit=1)[1]
    allowed = f"Write {kind.name} with its unit in brackets, e.g. [{example}]."
    if not heading.unit:
        raise CaseError("has no unit", file=file, key=key, given=given, allowed=allowed)
    anything = replace(kind, low=f"-1e30 {kind.unit}", high=f"1e30 {kind.unit}")
    try:
        read_quantity(f"1 {heading.unit}", anything)
    except InputRefused as error:
        raise CaseError(str(error), file=file, key=key, given=given, allowed=allowed) from None
    return heading.unit


def _what_columns(columns: Mapping[str, Kind | None]) -> str:
    shown = [f"{name} [{kind.unit}]" if kind else name for name, kind in columns.items()]
    return f"The heading names the columns, with units: {', '.join(shown)}."
