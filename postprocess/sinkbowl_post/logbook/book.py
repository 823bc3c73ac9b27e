"""The logbook's file: atomic appending and removal of a row, with a lock.

Earlier rows are unchanged. Texts of the new row without a column in the table (date, version) get
new columns on the right, empty in older rows; units are the table's. A lock file makes simultaneous
users wait for each other.
"""

import csv
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from io import StringIO
from pathlib import Path
from time import monotonic, sleep

from sinkbowl.common.errors import CaseError, InputRefused, ResultError
from sinkbowl.common.text_file import SEPARATORS, read_text
from sinkbowl.common.units import Kind, in_unit
from sinkbowl.files.safe_writing import WINDOWS, hold
from sinkbowl_post.measured.measured import TRIAL_COLUMNS, Trials, read_measured
from sinkbowl_post.measured.table import LARGEST_FILE, read_units
from sinkbowl_post.output import written_aside

USUAL_UNITS = {"hole": "mm", "mass": "g", "time": "s", "time_uncertainty": "s"}
ORDER = (
    *("hole", "mass", "time", "time_uncertainty", "outcome", "remarks"),
    *("date", "case_hash", "version"),
)
"""Order of the columns of a new logbook."""
WHOLE = ("hole", "mass")  # columns that either all rows fill or none
PATIENCE, PAUSE = 20.0, 0.02  # waiting time for a locked file, and between two tries [s]

Cells = Mapping[str, float | str]


def append_row(path: Path, cells: Cells, offered: Cells, comma: bool = False) -> Trials:
    """Append a row to a logbook and read the whole table.

    cells : by column, numbers in SI, texts
    offered : cells for columns of the table, or of a new one, that are not in `cells`
    comma : whether to write decimal commas, in a new file with ; between the cells

    Raises CaseError if the file is not a table of trials, or --comma does not fit it; ResultError
    for another suffix, a missing folder, or a locked file.
    """
    with _held(path) as place:
        text = (
            _lengthened(place, cells, offered, comma)
            if place.exists()
            else _begun({**offered, **cells}, comma)
        )
        with written_aside(place.parent) as aside:
            new = aside / place.name
            new.write_text(text, encoding="utf-8", newline="")
            # if refused here, the row is not written
            _checked(new)
        return _checked(place)


def undo_trial(path: str | Path) -> str:
    """Remove the last row of a logbook and return its text.

    Raises CaseError if the file is missing, not a table of trials, or has no row; ResultError as
    `append_row`.
    """
    path = Path(path)
    with _held(path) as place:
        read_units(place, TRIAL_COLUMNS)
        lines = _lines(place)
        numbers = [k for k, line in enumerate(lines) if _has_text(line)]
        if len(numbers) < 2:
            raise CaseError("Has no row to remove", file=path)
        last = lines.pop(numbers[-1])
        with written_aside(place.parent) as aside:
            kept = "".join(line.rstrip("\r\n") + "\n" for line in lines)
            (aside / place.name).write_text(kept, encoding="utf-8", newline="")
        return last.strip()


@contextmanager
def _held(path: Path) -> Iterator[Path]:
    """The logbook's full path, with its lock held."""
    place = path.resolve()
    if place.suffix.lower() != ".csv":
        raise ResultError(f"{path}: give a file name that ends in .csv.")
    if not place.parent.is_dir():
        raise ResultError(f"{path}: the folder {place.parent} does not exist. Create it first.")
    try:
        lock, until = place.with_name(f".{place.name}.lock"), monotonic() + PATIENCE
        while (file := hold(lock)) is None:
            if monotonic() > until:
                raise ResultError(
                    f"{path}: another process has locked it for {PATIENCE:g} s. Try again."
                )
            sleep(PAUSE)
        try:
            yield place
        finally:
            if WINDOWS:
                os.close(file)
            with suppress(OSError):
                lock.unlink()
            if not WINDOWS:
                os.close(file)
    except OSError as error:
        raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error


def _lines(path: Path) -> list[str]:
    try:
        return read_text(path, LARGEST_FILE, "a logbook").splitlines()
    except InputRefused as error:
        raise CaseError(f"It {error}", file=path) from None


def _checked(path: Path) -> Trials:
    read = read_measured(path)
    if not isinstance(read, Trials):
        raise CaseError("Is a trace, not a table of trials", file=path)
    return read


def _begun(cells: Cells, comma: bool) -> str:
    units = {name: USUAL_UNITS.get(name, "") for name in ORDER if name in cells or name == "time"}
    heading = [f"{name} [{unit}]" if unit else name for name, unit in units.items()]
    separator = ";" if comma else ","
    return _line(heading, separator) + _line(_row(units, cells, comma), separator)


def _lengthened(path: Path, cells: Cells, offered: Cells, comma: bool) -> str:
    """The file's text with the row, and with missing columns added."""
    units = read_units(path, TRIAL_COLUMNS)
    lines = _lines(path)
    table_lines = [k for k, line in enumerate(lines) if _has_text(line)]
    heading = lines[table_lines[0]]
    separator = next((mark for mark in SEPARATORS if mark in heading), ";" if comma else ",")
    if comma and separator == ",":
        raise CaseError(
            "Has commas between its cells: decimals need a point",
            file=path,
            allowed="Leave out --comma, or save it with semicolons between the cells.",
        )
    if len(table_lines) > 1:
        _checked(path)
    cells = {**{name: cell for name, cell in offered.items() if name in units}, **cells}
    _check_whole(path, units, cells)
    missing = [name for name in cells if name not in units]
    commas = comma or (separator != "," and any("," in lines[k] for k in table_lines[1:]))
    if missing:
        added = {name: USUAL_UNITS.get(name, "") for name in missing}
        written = [f"{name} [{unit}]" if unit else name for name, unit in added.items()]
        for k in table_lines:
            had = _cells(lines[k], separator)[: len(units)]
            lines[k] = _line(
                [*had, *(written if k == table_lines[0] else [""] * len(written))], separator
            )
        units |= added
    kept = "".join(line.rstrip("\r\n") + "\n" for line in lines)
    return kept + _line(_row(units, cells, commas), separator)


def _check_whole(path: Path, units: Mapping[str, str], cells: Cells) -> None:
    """Refuse a row with hole or mass if the others have none, and vice versa."""
    for name in WHOLE:
        if name in units and name not in cells:
            raise CaseError(
                f"Its trials have a column {name}", file=path, allowed=f"Give --{name}."
            )
        if name not in units and name in cells:
            raise CaseError(
                f"Its trials have no column {name}",
                file=path,
                allowed=f"Add a column {name} [{USUAL_UNITS[name]}] and fill it, or start a new "
                "table.",
            )


def _has_text(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith(("#", '"#'))


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader([line], delimiter=separator))


def _row(units: Mapping[str, str], cells: Cells, comma: bool) -> list[str]:
    return [_cell(name, unit, cells.get(name, ""), comma) for name, unit in units.items()]


def _cell(name: str, unit: str, value: float | str, comma: bool) -> str:
    kind: Kind | None = TRIAL_COLUMNS[name]
    if isinstance(value, str) or kind is None:
        return str(value)
    words = f"{in_unit(value, unit, kind):.7g}"
    return words.replace(".", ",") if comma else words


def _line(cells: list[str], separator: str) -> str:
    out = StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerow(cells)
    return out.getvalue()
