"""Safe reading of text files: not too long, no folder or device, valid UTF-8; tables in them.

Tables are as people write them: a line of headings with units, then one line of cells per row.
Comma, semicolon or tab between the cells (with the latter two, decimal commas are accepted); lines
that begin with # are comments. The first other line names the columns, ``hole [mm]``. Every message
gives the file and the row as a spreadsheet counts it.
"""

import csv
import re
import stat
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from io import StringIO
from pathlib import Path
from typing import Any

from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.shown import for_csv_remark, plural

MOST_POINTS = 200
"""Maximum number of points in a line of TOML: a dotted key of n parts takes time n^2 to read."""


def read_toml(text: str) -> dict[str, Any]:
    """Tables of a TOML text.

    Raises tomllib.TOMLDecodeError for no TOML, deep nesting, or a line with too many points,
    ValueError for an integer of thousands of digits.
    """
    if any(line.count(".") > MOST_POINTS for line in text.split("\n")):
        raise tomllib.TOMLDecodeError(f"a line has more than {MOST_POINTS} points")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise tomllib.TOMLDecodeError("it is nested too deeply") from None


def read_text(path: Path, longest: int, what: str) -> str:
    """Content of a UTF-8 text file, without a byte order mark.

    longest : limit of the size [bytes]; no more is read
    what : kind of file for messages: "a case file"

    Raises InputRefused if the file is missing, not an ordinary file, too long, unreadable or not
    UTF-8.
    """
    check_ordinary(path, what)
    try:
        with path.open("rb") as file:
            content = file.read(longest + 1)
    except OSError as error:
        raise InputRefused(f"cannot be read: {error.strerror}") from None
    if len(content) > longest:
        raise InputRefused(f"is too long for {what}", f"At most {longest} bytes are read.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputRefused(f"is not UTF-8 text (byte {error.start})", "Save it as UTF-8.") from None


def check_ordinary(path: Path, what: str) -> None:
    """Refuse missing files, folders, devices and pipes; InputRefused."""
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise InputRefused("is not there") from None
    except OSError as error:
        raise InputRefused(f"cannot be read: {error.strerror}") from None
    if stat.S_ISDIR(mode):
        raise InputRefused(f"is a folder, not {what}")
    if not stat.S_ISREG(mode):
        raise InputRefused("is not an ordinary file")


def as_text(name: str) -> str:
    """A file's name or an argument as text, with replacement characters for invalid bytes.

    Python represents such bytes as lone surrogates, which cannot be written.
    """
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def neighbours(path: Path, pattern: str) -> str:
    """Sentence that names files beside a missing one; empty if there are none."""
    near = sorted(other.name for other in path.parent.glob(pattern))[:8]
    return f"In {path.parent} there are: {', '.join(near)}." if near else ""


HEADING = re.compile(r"(?P<name>[^\[\](){}]+)(?:[\[(](?P<unit>[^\])]*)[\])])?")
"""Blanks are stripped afterwards: a pattern for them could take for ever."""

SEPARATORS = (";", "\t", ",")
NUMBER = re.compile(r"[+-]?\d+\.\d+(e[+-]?\d+)?", re.IGNORECASE)
MOST_ROWS = 100_000


@dataclass(frozen=True)
class Heading:
    """Name and unit of a column, "" for none, and its text in the file."""

    name: str
    unit: str
    written: str


@dataclass(frozen=True)
class TableRow:
    """Cells of one row, and its number as a spreadsheet counts it."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Headings, the number of their row, and lines with a cell for each of them."""

    path: Path
    row: int
    headings: tuple[Heading, ...]
    lines: tuple[TableRow, ...]
    decimal_comma: bool

    def number_text(self, cell: str) -> str:
        """A cell that holds a number, with a decimal point."""
        return cell.replace(",", ".") if self.decimal_comma else cell


def read_table(
    path: Path, longest: int, what: str, columns: str, rows_needed: bool = True
) -> Table:
    """Read a table.

    longest : limit of the file's size [bytes]
    what : kind of file for messages: "a measured table"
    columns : sentence for messages on the expected headings
    rows_needed : whether a heading alone is refused

    Raises CaseError if the file is missing, not a table or too long, or a row has another number of
    cells.
    """
    lines = _lines(path, longest, what)
    number, text = next(lines, (0, ""))
    if not text:
        raise CaseError("Contains no table", file=path, allowed=columns)
    separator = next((mark for mark in SEPARATORS if mark in text), ",")
    written = _cells(path, number, text, separator)
    while not written[-1] and len(written) > 1:
        written.pop()
    listed = list(lines)
    if len(listed) > MOST_ROWS:
        allowed = f"At most {MOST_ROWS} are read: use fewer rows."
        raise CaseError(f"Has {len(listed)} rows", file=path, allowed=allowed)
    rows = [TableRow(k, tuple(_cells(path, k, line, separator))) for k, line in listed]
    fitted = tuple(_fitted(path, row, len(written)) for row in rows if any(row.cells))
    if not fitted and rows_needed:
        raise CaseError("Has a heading, but no rows", file=path, allowed="Add one line per row.")
    return Table(path, number, tuple(map(_heading, written)), fitted, separator != ",")


def csv_text(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    remarks: Sequence[str] = (),
    comma: bool = False,
) -> str:
    """A table as text, comments first.

    head : headings with their units, ``hole [mm]``
    rows : cells of each line; foreign texts must have passed `for_csv`
    comma : whether to write decimal commas and separate cells by ;
    """
    out = StringIO()
    out.writelines(f"# {for_csv_remark(remark)}\n" for remark in remarks)
    writer = csv.writer(out, delimiter=";" if comma else ",", lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([c.replace(".", ",") if comma and NUMBER.fullmatch(c) else c for c in row])
    return out.getvalue()


def shipped_table(package: str, name: str) -> list[dict[str, str]]:
    """Rows of a table shipped with a package, cells by heading."""
    return plain_rows(files(package).joinpath(name).read_text(encoding="utf-8"))


def plain_rows(text: str) -> list[dict[str, str]]:
    """Rows of a table of this program, cells by heading, without comments."""
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def _heading(written: str) -> Heading:
    match = HEADING.fullmatch(written)
    if match is None:
        return Heading(written, "", written)
    return Heading(match["name"].strip(), (match["unit"] or "").strip(), written)


def _fitted(path: Path, row: TableRow, count: int) -> TableRow:
    """A row with as many cells as there are headings; empty ones at its end do not count."""
    cells = row.cells
    while len(cells) > count and not cells[-1]:
        cells = cells[:-1]
    if len(cells) != count:
        raise CaseError(
            f"Row {row.number} has {plural(len(cells), 'cell')}, the heading has {count}",
            file=path,
            allowed="A decimal comma needs semicolons between the cells.",
        )
    return TableRow(row.number, cells)


def _lines(path: Path, longest: int, what: str) -> Iterator[tuple[int, str]]:
    """Lines that are not empty or comments, with their number."""
    try:
        text = read_text(path, longest, what)
    except InputRefused as error:
        allowed = error.allowed or neighbours(path, "*.csv")
        raise CaseError(f"It {error}", file=path, allowed=allowed or None) from None
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.lstrip().startswith(("#", '"#')):
            yield number, line


def _cells(path: Path, number: int, line: str, separator: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
    except csv.Error as error:
        raise CaseError(f"Row {number} is not a row of a table: {error}", file=path) from None
