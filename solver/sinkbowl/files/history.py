"""The history of a run: columns of numbers by name, each with its unit and what it means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.shown import Shown, TextTable
from sinkbowl.files.record import DATASETS

SHOWN = ("t", "draft", "speed", "head", "hole_flow", "inner_volume")
"""Columns of the table that a history prints as."""

ROWS = 6
"""Rows of that table, evenly spread over the run."""

_COLUMNS = {dataset.column: dataset for dataset in DATASETS if dataset.group == "history"}


class History(Shown, Mapping[str, NDArray[np.float64]]):
    """Columns (n,) of equal length, one value a time step, SI.

    ``history["draft"]`` is an array, ``history.units["draft"]`` its unit, "m", and
    ``history.meanings["draft"]`` what it is; all as in the result file.
    """

    units: Mapping[str, str] = MappingProxyType({n: d.units for n, d in _COLUMNS.items()})
    meanings: Mapping[str, str] = MappingProxyType({n: d.description for n, d in _COLUMNS.items()})

    def __init__(self, columns: Mapping[str, NDArray[np.float64]]) -> None:
        self._columns = dict(columns)

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """A column.

        Raises
        ------
        KeyError : there is none of that name; the message lists them
        """
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
