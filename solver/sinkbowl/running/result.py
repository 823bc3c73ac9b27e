"""Reader of result files (the writer, and the table of what they hold, is record.py).

Reads finished runs, and what a run in progress or a killed one has brought to disk so far.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case, parse_case
from sinkbowl.errors import CaseError, ResultError
from sinkbowl.running.record import FRAME_FIELDS, GRID, HISTORY, SCHEMA_VERSION
from sinkbowl.sinking import Sinking


@dataclass(frozen=True)
class Frames:
    """The stored pictures of the flow; their fields stay on disk until asked for.

    Attributes
    ----------
    t, draft, speed : time [s], draft [m] and its rate [m/s], each (nt,)
    """

    path: Path
    t: NDArray[np.float64]
    draft: NDArray[np.float64]
    speed: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.t)

    def fields(
        self, k: int, names: tuple[str, ...] = FRAME_FIELDS
    ) -> dict[str, NDArray[np.float32]]:
        """Fields of frame k, each (nr, nz) at cell centres; see DATASETS for their units."""
        with h5py.File(self.path, "r", locking=False) as file:
            return {name: file[f"frames/{name}"][k] for name in names}


@dataclass(frozen=True)
class Result:
    """What one run of the flow solver left behind.

    Attributes
    ----------
    attrs : root attributes (status, title, case_text, ...)
    history : columns of equal length, one value a step
    events : time of each event [s]
    grid : r_f, z_f, open_fraction, outline, grid_outline; empty where the run never got there
    """

    path: Path
    attrs: Mapping[str, Any]
    history: Mapping[str, NDArray[np.float64]]
    events: Mapping[str, float]
    grid: Mapping[str, NDArray[np.float64]]
    frames: Frames

    @property
    def title(self) -> str:
        return str(self.attrs["title"])

    @property
    def status(self) -> str:
        return str(self.attrs["status"])

    @property
    def outcome(self) -> str:
        return str(self.attrs["outcome"])

    @property
    def sinking_time(self) -> float | None:
        """Time until the rim passed under [s]; None where it did not (or not yet)."""
        value = float(self.attrs["sinking_time_s"])
        return None if math.isnan(value) else value

    @property
    def uncertainty(self) -> float | None:
        """Numerical uncertainty of the sinking time [s], 95 %; None where one grid was run."""
        value = float(self.attrs.get("sinking_time_uncertainty_s", math.nan))
        return None if math.isnan(value) else value

    @property
    def levels_warning(self) -> str:
        """What is wrong with the sequence of grids, in words; empty where nothing is."""
        return str(self.attrs.get("levels_warning", ""))

    @cached_property
    def case(self) -> Case:
        """The case, read again from the text in the file.

        Raises
        ------
        ResultError : the text cannot be read, for instance because an outline file is gone
        """
        path = Path(str(self.attrs["case_path"]) or self.path)
        try:
            return parse_case(str(self.attrs["case_text"]), path.parent, path.name)
        except CaseError as error:
            raise ResultError(f"{self.path}: its case cannot be read again: {error}") from error

    def sinking(self) -> Sinking:
        """The history in the form that the reduced models share."""
        names = ("t", "draft", "speed", "inner_volume", "inner_level", "head", "hole_flow")
        return Sinking(
            model="flow",
            **{name: self.history[name] for name in names},
            events=self.events,
            outcome=self.outcome or self.status,
            sinking_time=self.sinking_time,
        )


def read_result(path: str | Path) -> Result:
    """Read a result file.

    Raises
    ------
    ResultError : there is no such file, or it is not a result of this schema
    """
    path = Path(path)
    if not path.is_file():
        raise ResultError(
            f"{path}: there is no such file. Make one with: sinkbowl run CASE -o {path}"
        )
    try:
        with h5py.File(path, "r", locking=False) as file:
            return _read(file, path)
    except (OSError, KeyError) as error:
        raise ResultError(f"{path}: is not a readable result file ({error}).") from error


def _read(file: h5py.File, path: Path) -> Result:
    attrs = dict(file.attrs)
    if attrs.get("schema_version") != SCHEMA_VERSION:
        raise ResultError(
            f"{path}: has schema {attrs.get('schema_version', 'none')}, this version reads "
            f"{SCHEMA_VERSION}. Run the case again, or read it with the version that wrote it."
        )
    names = [name.decode() for name in file["events/name"][:]]
    numbers = {name: file[f"frames/{name}"][:] for name in ("t", "draft", "speed")}
    return Result(
        path=path,
        attrs=attrs,
        history=_equal_length({name: file[f"history/{name}"][:] for name in HISTORY}),
        events=dict(zip(names, (float(t) for t in file["events/t"][:]), strict=False)),
        grid={name: file[f"grid/{name}"][:] for name in GRID} if "grid" in file else {},
        frames=Frames(path, **_equal_length(numbers)),
    )


def _equal_length(
    columns: Mapping[str, NDArray[np.float64]],
) -> dict[str, NDArray[np.float64]]:
    """Cut all columns to the shortest: a killed run may have written some of a row only."""
    rows = min(len(column) for column in columns.values())
    return {name: column[:rows] for name, column in columns.items()}
