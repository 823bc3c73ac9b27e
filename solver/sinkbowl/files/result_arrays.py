"""Checks of the arrays of a result file.

A file may be damaged, of another version, or forged: values that are not numbers or impossible,
times that decrease and a grid that does not fit are refused (`Malformed`).
"""

import math
from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.shown import Shown, TextTable
from sinkbowl.files.record import DATASETS, FRAME_FIELDS, FRAME_NUMBERS, GRID, HISTORY, LATER, MOST
from sinkbowl.files.safe_reading import Malformed, Opened, are_numbers, dataset_at, numbers, texts

GRID_DIMENSIONS = {d.column: d.dims for d in DATASETS if d.group == "grid"}


def history_of(file: Opened) -> dict[str, NDArray[np.float64]]:
    """Columns of the history by name, each (n,); Malformed if they are not."""
    columns = columns_of(file, "history", _there(file, "history", HISTORY))
    if not _is_clock(columns["t"]):
        raise Malformed("history/t does not increase from row to row")
    return columns


def columns_of(file: Opened, group: str, names: tuple[str, ...]) -> dict[str, NDArray[np.float64]]:
    """Columns of a group by name, each (n,); Malformed if they are not numbers."""
    columns = _equal_length(
        {name: numbers(file, f"{group}/{name}", 1, MOST["step"]) for name in names}
    )
    for name, column in columns.items():
        if not are_numbers(column):
            raise Malformed(f"{group}/{name} has values that are not numbers")
    return columns


def events_of(file: Opened) -> dict[str, float]:
    """Time of each event [s]; Malformed if one is not a number."""
    names = texts(file, "events/name", MOST["event"])
    times = numbers(file, "events/t", 1, MOST["event"])
    if not are_numbers(times):
        raise Malformed("events/t has values that are not numbers")
    return dict(zip(names, (float(t) for t in times), strict=False))


def grid_of(file: Opened) -> dict[str, NDArray[np.float64]]:
    """Arrays of the grid by name, perhaps none yet; Malformed if they do not fit."""
    if "grid" not in file:
        return {}
    found = _there(file, "grid", GRID)
    dims = ((name, GRID_DIMENSIONS[name]) for name in found)
    return _checked_grid(
        {n: numbers(file, f"grid/{n}", len(d), MOST.get(d[0], math.inf)) for n, d in dims}
    )


def frame_times(
    file: Opened, grid: Mapping[str, NDArray[np.float64]]
) -> dict[str, NDArray[np.float64]]:
    """Times, drafts and speeds of the frames, each (n,); all fields have the grid's shape.

    Malformed if they have not, or are not numbers.
    """
    times = _equal_length(
        {name: numbers(file, f"frames/{name}", 1, MOST["frame"]) for name in FRAME_NUMBERS}
    )
    if not (_is_clock(times["t"]) and all(map(are_numbers, times.values()))):
        raise Malformed("the frames' times, drafts and speeds are not a sequence of numbers")
    for name in FRAME_FIELDS if grid else ():
        field = dataset_at(file, f"frames/{name}", 3)
        if field.shape[1:] != grid["open_fraction"].shape or len(field) < len(times["t"]):
            raise Malformed(f"frames/{name} has the shape {field.shape}")
    return times


def _there(file: Opened, group: str, names: tuple[str, ...]) -> tuple[str, ...]:
    """Columns of a group: the required ones, and later additions if present."""
    return tuple(n for n in names if f"{group}/{n}" not in LATER or f"{group}/{n}" in file)


def _checked_grid(grid: dict[str, NDArray[np.float64]]) -> dict[str, NDArray[np.float64]]:
    """The grid if its arrays are finite and fit each other."""
    r_f, z_f, share = grid["r_f"], grid["z_f"], grid["open_fraction"]
    fits = (
        all(map(are_numbers, grid.values()))
        and share.shape == (len(r_f) - 1, len(z_f) - 1)
        and np.all(np.diff(r_f) > 0.0)
        and np.all(np.diff(z_f) > 0.0)
        and bool(np.all((share >= 0.0) & (share <= 1.0 + 1e-9)) and np.any(share > 0.0))
        and all(array.shape[1] == 2 for name, array in grid.items() if name.endswith("outline"))
    )
    if not fits:
        raise Malformed("the arrays of the grid do not match")
    return grid


def _is_clock(times: NDArray[np.float64]) -> bool:
    """Whether times are numbers that do not decrease."""
    return are_numbers(times) and bool(np.all(np.diff(times) >= 0.0))


def _equal_length(columns: Mapping[str, NDArray[np.float64]]) -> dict[str, NDArray[np.float64]]:
    """Cut all columns to the shortest: Ctrl-C may interrupt between two of them."""
    rows = min(len(column) for column in columns.values())
    return {name: column[:rows] for name, column in columns.items()}


SHOWN = ("t", "draft", "speed", "head", "hole_flow", "inner_volume")  # columns of the printed table
ROWS = 6  # rows of the printed table, equidistant over the run

_COLUMNS = {dataset.column: dataset for dataset in DATASETS if dataset.group == "history"}


class History(Shown, Mapping[str, NDArray[np.float64]]):
    """Columns (n,) of equal length, one value per time step, SI.

    ``history["draft"]`` is an array, ``history.units["draft"]`` its unit, "m", and
    ``history.meanings["draft"]`` its meaning; all as in the result file.
    """

    units: Mapping[str, str] = MappingProxyType({n: d.units for n, d in _COLUMNS.items()})
    meanings: Mapping[str, str] = MappingProxyType({n: d.description for n, d in _COLUMNS.items()})

    def __init__(self, columns: Mapping[str, NDArray[np.float64]]) -> None:
        self._columns = dict(columns)

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """A column; KeyError with a list if there is no such column."""
        try:
            return self._columns[name]
        except KeyError:
            raise KeyError(f"{name!r} is not a column; there are {', '.join(self)}") from None

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        """Number of columns; the number of steps is ``len(history["t"])``."""
        return len(self._columns)

    @property
    def table(self) -> TextTable:
        """A few rows of a few columns."""
        steps = len(self["t"])
        picked = np.unique(np.linspace(0, max(steps - 1, 0), ROWS).astype(int))[:steps]
        return TextTable(
            [[f"{self[name][k]:.4g}" for name in SHOWN] for k in picked],
            f"{steps} steps, {len(self)} columns: {', '.join(self)}",
            [f"{name} [{self.units[name]}]" for name in SHOWN],
        )
