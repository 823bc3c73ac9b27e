"""The index of a sweep, ``index.h5`` in its folder: varied values and results of the runs.

It is written to a temporary file, sealed, flushed to disk and renamed, so that it is consistent at
any time. ``DATASETS`` is the table of its contents; for each varied key,
``values/<key>`` has its numbers in SI units and ``written/<key>`` the texts in the cases.
"""

import math
from contextlib import suppress
from dataclasses import dataclass
from importlib.metadata import version
from io import BytesIO
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.keys import numeric_key, shortened
from sinkbowl.common.errors import InputRefused, ResultError
from sinkbowl.common.shown import Shown, TextTable
from sinkbowl.files.record import table_of
from sinkbowl.files.safe_reading import (
    USER_BLOCK,
    Malformed,
    Opened,
    are_numbers,
    attribute_of,
    check_title,
    is_toml,
    read,
    read_sealed,
    seal,
    texts,
    texts_of,
)
from sinkbowl.files.safe_writing import bring_to_disk, make_anew, put_in_place
from sinkbowl.scatter.interval import SHORTEST, SOURCES, TimeInterval, interval_of, time_text
from sinkbowl.sweeps.plan import MOST_RUNS

INDEX = "index.h5"
KIND = "sinkbowl sweep"
SCHEMA_VERSION = "4"
STATUSES = ("waiting", "finished", "stopped", "failed")

DATASETS = table_of("""
runs/name | run | 1 | number and varied values of the run
runs/file | run | 1 | its result file in this folder
runs/status | run | 1 | waiting, finished, stopped or failed
runs/sinking_time | run | s | time until the rim was under, median of the members; NaN where it
    was not
runs/low | run | s | lower end of the interval of the best time, 95 %
runs/high | run | s | upper end of that interval
runs/mean | run | s | mean of the members
runs/scatter | run | s | half-width of that interval by numerical noise alone
runs/other | run | 1 | shift, other half-widths by cause, and whether the time is sensitive
runs/grid | run | s | half-width of that interval by the error of the grid alone
runs/scatter_from | run | 1 | source of the numerical noise: members or table
runs/grid_from | run | 1 | source of the error of the grid: grids or table
runs/hole_ratio | run | 1 | hole diameter over inner diameter of the rim
runs/members | run | 1 | number of runs in the mean
runs/outcome | run | 1 | what the bowl did, in words
runs/reason | run | 1 | why the run failed
runs/wall_seconds | run | s | wall time of the run, NaN where it is not known
runs/losses | run | 1 | number of restarts of the run after its process was lost
""")
"""All datasets, one entry per run."""

WORDS = {"name", "file", "status", "scatter_from", "grid_from", "other", "outcome", "reason"}
"""Columns of text."""

OF_INTERVAL = ("low", "high", "mean", "scatter", "grid", *SOURCES, "hole_ratio", "other")
"""Columns of the interval of a run."""

TEXTS = ("title", "case_text", "case_path")
TEXT, NUMBER = "O", "fiu"  # kinds of numpy types of the columns


@dataclass(frozen=True)
class SweepRun:
    """State and result of one run.

    name, file : see the plan
    values : SI numbers, in the order of the sweep's keys
    written : the same as text in the case
    status : "waiting", "finished", "stopped" or "failed"
    sinking_time : [s], None if the rim did not go under
    outcome : what the bowl did
    reason : why it failed
    wall_seconds : [s], None if unknown
    losses : number of lost processes
    interval : of the sinking time
    members : number of runs in the mean
    """

    name: str
    file: str
    values: tuple[float, ...]
    written: tuple[str, ...]
    status: str = "waiting"
    sinking_time: float | None = None
    outcome: str = ""
    reason: str = ""
    wall_seconds: float | None = None
    losses: int = 0
    interval: TimeInterval | None = None
    members: int = 1


@dataclass(frozen=True, repr=False)
class Sweep(Shown):
    """A sweep and its runs.

    Attributes
    ----------
    folder : of index and result files
    title, case_text, case_path : of the varied case
    keys : varied dotted keys
    runs : in the order of the plan
    """

    folder: Path
    title: str
    case_text: str
    case_path: str
    keys: tuple[str, ...]
    runs: tuple[SweepRun, ...]

    @property
    def table(self) -> TextTable:
        """One row per run."""
        rows = [
            [
                run.name.partition("-")[0],
                *map(shortened, run.written),
                "-" if run.sinking_time is None else time_text(run.sinking_time, run.interval),
                run.status,
            ]
            for run in self.runs
        ]
        head = ["run", *self.keys, "rim under", "status"]
        return TextTable(rows, f"{self.title}, {self.folder}", head)

    def with_status(self, status: str) -> tuple[SweepRun, ...]:
        """The runs with a status."""
        return tuple(run for run in self.runs if run.status == status)

    def values(self, key: str) -> NDArray[np.float64]:
        """Values of a varied key in SI units, (n,)."""
        column = self.keys.index(key)
        return np.array([run.values[column] for run in self.runs])

    @property
    def sinking_times(self) -> NDArray[np.float64]:
        """Times until the rim passed under [s], (n,); NaN if there is none."""
        return np.array([_number(run.sinking_time) for run in self.runs])


def write_index(sweep: Sweep) -> None:
    """Update the index on disk; ResultError if it cannot be written."""
    target = sweep.folder / INDEX
    aside = target.with_name(f".{INDEX}.new")
    content = BytesIO()  # HDF5 cannot close a file on a full disk
    with h5py.File(content, "w", userblock_size=USER_BLOCK) as file:
        _fill(file, sweep)
    try:
        with make_anew(aside) as written:
            written.write(content.getbuffer())
            seal(written, KIND, SCHEMA_VERSION)
            put_in_place(written, aside, target)
        bring_to_disk(sweep.folder)
    except OSError as error:
        with suppress(OSError):
            aside.unlink()
        phrase = error.strerror or error
        raise ResultError(
            f"{target}: cannot be written ({phrase}). Finished runs are kept. Free disk space and "
            "give the same command again."
        ) from error


def read_sweep(folder: str | Path) -> Sweep:
    """Read the index of a sweep.

    Parameters
    ----------
    folder : the sweep's folder

    Raises
    ------
    ResultError : it is missing or not readable
    """
    path = Path(folder) / INDEX
    if not path.is_file():
        raise ResultError(f"{path}: there is no such file. Compute it with: sinkbowl sweep CASE")
    what = "is not a readable index of a sweep"
    return read_sealed(path, KIND, SCHEMA_VERSION, what, _read)


def _fill(file: h5py.File, sweep: Sweep) -> None:
    file.attrs.update(
        {
            "schema_version": SCHEMA_VERSION,
            "tool_version": version("sinkbowl"),
            "units": "SI: m, kg, s, N, Pa",
            "title": sweep.title,
            "case_text": sweep.case_text,
            "case_path": sweep.case_path,
            "keys": list(sweep.keys),
        }
    )
    for entry in DATASETS:
        column = [_entry(run, entry.column) for run in sweep.runs]
        _store(file, entry.name, column, entry.units, entry.description)
    for k, key in enumerate(sweep.keys):
        known = numeric_key(key)
        numbers = [run.values[k] for run in sweep.runs]
        _store(file, f"values/{key}", numbers, known.unit, known.description)
        written = [run.written[k] for run in sweep.runs]
        _store(file, f"written/{key}", written, "1", f"{key} as it stands in each case")


def _entry(run: SweepRun, name: str) -> Any:
    """Entry of a column for a run."""
    if name not in OF_INTERVAL:
        return getattr(run, name)
    if run.interval is None:
        return "" if name in WORDS else None
    return run.interval.other_text if name == "other" else getattr(run.interval, name)


def _store(file: h5py.File, name: str, column: list[Any], units: str, description: str) -> None:
    if name.removeprefix("runs/") in WORDS or name.startswith("written/"):
        data = file.create_dataset(name, data=column, dtype=h5py.string_dtype())
    else:
        whole = all(isinstance(entry, int) for entry in column)
        data = file.create_dataset(name, data=column if whole else [_number(x) for x in column])
    data.attrs.update({"units": units, "description": description})
    data.dims[0].label = "run"


def _read(file: Opened, path: Path) -> Sweep:
    schema = attribute_of(file, "schema_version") if "schema_version" in file.attrs else "none"
    if schema != SCHEMA_VERSION:
        raise ResultError(f"{path}: has schema {schema}, this version reads {SCHEMA_VERSION}.")
    title, case_text, case_path = (attribute_of(file, name) for name in TEXTS)
    check_title(str(title))
    if not is_toml(str(case_text)):
        raise Malformed("the text of the case is not TOML")
    keys = texts_of(file, "keys")
    for key in keys:
        numeric_key(key)
    columns = {
        entry.column: _load(file, entry.name, TEXT if entry.column in WORDS else NUMBER)
        for entry in DATASETS
    }
    table = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    values = zip(*(_load(file, f"values/{key}", NUMBER) for key in keys), strict=True)
    written = zip(*(_load(file, f"written/{key}", TEXT) for key in keys), strict=True)
    intervals = [_interval(row) for row in table]
    runs = [
        SweepRun(values=numbers, written=words, interval=interval, **row)
        for row, interval, numbers, words in zip(table, intervals, values, written, strict=True)
    ]
    for run in runs:
        for key, number, word in zip(keys, run.values, run.written, strict=True):
            if not _says(key, number, word):
                raise Malformed(f"written/{key} does not say what values/{key} has")
    here = all(Path(run.file).name == run.file and run.file.endswith(".h5") for run in runs)
    if not here or not all(run.status in STATUSES for run in runs):
        raise Malformed("a run has no status or no file in this folder")
    if any(run.sinking_time is not None and run.sinking_time < SHORTEST for run in runs):
        raise Malformed("a sinking time is not above 0")
    return Sweep(path.parent, str(title), str(case_text), str(case_path), keys, tuple(runs))


def _says(key: str, number: float, word: str) -> bool:
    """Whether the text in a case gives the number of its key."""
    try:
        return math.isclose(numeric_key(key).value(word).number, number, rel_tol=1e-9)
    except InputRefused:
        return False


def _interval(row: dict[str, Any]) -> TimeInterval | None:
    """The interval of a row of the table, whose columns it removes; None if it has none."""
    cells = {name: row.pop(name) for name in OF_INTERVAL} | {"members": row["members"]}
    low, _ = cells.pop("low"), cells.pop("high")
    if low is None or None in cells.values():
        return None
    try:
        return interval_of(**cells)
    except ValueError as error:
        raise Malformed(str(error)) from None


def _load(file: Opened, name: str, kinds: str) -> list[Any]:
    """A column, with None for nan."""
    if kinds == TEXT:
        return texts(file, name, MOST_RUNS)
    column = read(file, name, 1, kinds, most=MOST_RUNS)
    if not are_numbers(column[~np.isnan(column)]):
        raise Malformed(f"{name} has a value that is no number")
    return [None if math.isnan(entry) else entry for entry in column.tolist()]


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)
