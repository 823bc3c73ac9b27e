"""The result file: one HDF5 file a run, written while the run goes on (read it with result.py).

``DATASETS`` is the one table of what a result file holds. Everything is SI; the grid is fixed to
the bowl (z = 0 at its lowest outer point), velocities are those of the laboratory.

Rows of history wait in memory and go to the file together, followed at once by a flush, so that the
file on disk is whole between two flushes: a run that is killed leaves a readable file with status
"running", and a reader may open it while the run goes on.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.errors import ResultError

if TYPE_CHECKING:
    from sinkbowl.case.case import Case

SCHEMA_VERSION = "1"
STATUSES = ("running", "finished", "stopped", "failed")
FLUSH_EVERY = 0.5  # s of wall clock
HISTORY_CHUNK = 2048  # rows; large, so that a flush seldom has to grow the file's index


@dataclass(frozen=True)
class Dataset:
    """One line of the table of datasets: where it lies, its dimensions, unit and meaning."""

    name: str
    dims: tuple[str, ...]
    units: str
    description: str

    @property
    def group(self) -> str:
        return self.name.split("/")[0]

    @property
    def column(self) -> str:
        return self.name.split("/")[1]


_STEP, _EVENT, _FRAME, _POINT = ("step",), ("event",), ("frame",), ("point", "rz")
_CELL, _FIELD = ("r", "z"), ("frame", "r", "z")

DATASETS = (
    Dataset("history/t", _STEP, "s", "time since release"),
    Dataset("history/draft", _STEP, "m", "depth of the outer bottom below the still outer surface"),
    Dataset("history/speed", _STEP, "m/s", "rate of the draft, positive downwards"),
    Dataset("history/inner_volume", _STEP, "m^3", "water inside the bowl, hole included"),
    Dataset("history/inner_level", _STEP, "m", "mean inner level above the inner base"),
    Dataset("history/head", _STEP, "m", "draft less height of the inner base less inner level"),
    Dataset("history/hole_flow", _STEP, "m^3/s", "flow through the hole, positive into the bowl"),
    Dataset("history/water_volume", _STEP, "m^3", "all the water in the tub"),
    Dataset("history/volume_error", _STEP, "1", "relative: water lost or won since the start"),
    Dataset("history/momentum_error", _STEP, "1", "vertical momentum not accounted for by forces"),
    Dataset("history/dt", _STEP, "s", "time step"),
    Dataset("history/iterations", _STEP, "1", "iterations of the pressure solve"),
    Dataset("history/outer_level", _STEP, "m", "mean outer level above the still outer surface"),
    Dataset(
        "history/pressure_force", _STEP, "N", "upward force of the water's pressure on the bowl"
    ),
    Dataset("history/buoyancy_correction", _STEP, "N", "upward force for the grid's thicker solid"),
    Dataset("history/hole_force", _STEP, "N", "upward force of a closed hole's flow on the bowl"),
    Dataset("history/clipped_volume", _STEP, "m^3", "water moved to keep volume fractions in 0..1"),
    Dataset(
        "events/name", _EVENT, "1", "what happened: start, rim_under, over_rim, full, half_sunk"
    ),
    Dataset("events/t", _EVENT, "s", "time since release at which it happened"),
    Dataset("grid/r_f", ("r_face",), "m", "radii of the cell faces"),
    Dataset("grid/z_f", ("z_face",), "m", "heights of the cell faces above the outer bottom"),
    Dataset("grid/open_fraction", _CELL, "1", "share of each cell that is not solid"),
    Dataset("grid/outline", _POINT, "m", "section of the bowl's solid, closed outline, r and z"),
    Dataset("grid/grid_outline", _POINT, "m", "section of the solid as the grid holds it"),
    Dataset("frames/t", _FRAME, "s", "time since release"),
    Dataset("frames/draft", _FRAME, "m", "depth of the outer bottom below the still outer surface"),
    Dataset("frames/speed", _FRAME, "m/s", "rate of the draft, positive downwards"),
    Dataset("frames/volume_fraction", _FIELD, "1", "water's share of the open part of each cell"),
    Dataset("frames/pressure", _FIELD, "Pa", "pressure above the air's, at cell centres"),
    Dataset("frames/u_r", _FIELD, "m/s", "water velocity outwards, at cell centres"),
    Dataset("frames/u_z", _FIELD, "m/s", "water velocity upwards, at cell centres"),
)


def columns(group: str, dims: tuple[str, ...] | None = None) -> tuple[str, ...]:
    """Names of the datasets of one group, all of them or those of the given dimensions."""
    return tuple(d.column for d in DATASETS if d.group == group and dims in (None, d.dims))


HISTORY = columns("history")
GRID = columns("grid")
FRAME_NUMBERS = columns("frames", _FRAME)
FRAME_FIELDS = columns("frames", _FIELD)


class Recorder:
    """Writer of one result file; a context manager. Make one with :meth:`create`.

    Leaving the ``with`` block without :meth:`finish` marks the run "failed".
    """

    def __init__(self, file: h5py.File, path: Path) -> None:
        self.path = path
        self._file = file
        self._rows: list[tuple[float, ...]] = []
        self._flushed_at = time.monotonic()

    @classmethod
    def create(
        cls, path: str | Path, case: Case, overwrite: bool = False, notes: Sequence[str] = ()
    ) -> Self:
        """Start a result file with status "running".

        Parameters
        ----------
        path : file to write; its folder must exist
        case : the case, whose text goes into the file verbatim
        overwrite : replace an existing file (it goes at this moment, not before)
        notes : what a reader should know of how the case was computed

        Raises
        ------
        ResultError : the file exists and is not to be replaced, or cannot be written
        """
        path = Path(path)
        check_target(path, overwrite)
        try:
            path.unlink(missing_ok=True)
            # No file lock: readers may look at a run in progress, and see its last flush.
            file = h5py.File(path, "x", locking=False)
        except OSError as error:
            raise ResultError(f"{path}: cannot be written ({error}).") from error
        recorder = cls(file, path)
        recorder._write_header(case, notes)
        recorder.flush()
        return recorder

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._file:
            why = str(error) or kind.__name__ if kind else "The run ended without a final status."
            self.finish("failed", None, why)

    def grid(self, arrays: Mapping[str, NDArray[np.floating]]) -> None:
        """Store the grid and make room for frames.

        Parameters
        ----------
        arrays : r_f (nr+1), z_f (nz+1), open_fraction (nr, nz), outline and grid_outline (k, 2) [m]
        """
        _demand("grid", arrays, GRID)
        for name in GRID:
            self._file[f"grid/{name}"] = np.asarray(arrays[name], dtype=float)
            self._label(f"grid/{name}")
        shape = (len(arrays["r_f"]) - 1, len(arrays["z_f"]) - 1)
        for name in FRAME_FIELDS:
            self._extendable(
                f"frames/{name}",
                np.dtype("f4"),
                shape,
                chunk=1,
                compression="gzip",
                compression_opts=1,
                shuffle=True,
            )
        self.flush()

    def attribute(self, name: str, value: str | float) -> None:
        """Set a root attribute of the file."""
        self._file.attrs[name] = value

    def append_history(self, row: Mapping[str, float]) -> None:
        """Add one step; ``row`` holds exactly the columns of ``HISTORY``."""
        _demand("history", row, HISTORY)
        self._rows.append(tuple(float(row[name]) for name in HISTORY))
        if time.monotonic() - self._flushed_at > FLUSH_EVERY:
            self.flush()

    def event(self, name: str, t: float) -> None:
        """Note that something happened at time t [s]."""
        self._append("events/name", [name])
        self._append("events/t", [t])

    def frame(
        self, t: float, draft: float, speed: float, fields: Mapping[str, NDArray[np.floating]]
    ) -> None:
        """Add one picture of the flow.

        Parameters
        ----------
        t, draft, speed : time [s], draft [m] and its rate [m/s]
        fields : volume_fraction, pressure [Pa], u_r, u_z [m/s], each (nr, nz) at cell centres
        """
        _demand("frames", fields, FRAME_FIELDS)
        for name in FRAME_FIELDS:
            self._append(f"frames/{name}", np.asarray(fields[name], dtype=np.float32)[None])
        for name, value in zip(FRAME_NUMBERS, (t, draft, speed), strict=True):
            self._append(f"frames/{name}", [value])
        self.flush()

    def flush(self) -> None:
        """Write the waiting rows and bring the file on disk up to date."""
        for k, name in enumerate(HISTORY if self._rows else ()):
            self._append(f"history/{name}", [row[k] for row in self._rows])
        self._rows.clear()
        self._file.flush()
        self._flushed_at = time.monotonic()

    def finish(
        self, status: str, sinking_time: float | None, message: str = "", outcome: str = ""
    ) -> None:
        """Write the end of the run and close the file.

        Parameters
        ----------
        status : "finished", "stopped" or "failed"
        sinking_time : time until the rim passed under [s], None where it did not
        message : why the run ended, for people
        outcome : what the bowl did, in plain words
        """
        if status not in STATUSES[1:]:
            raise ValueError(f"status {status!r} is none of {', '.join(STATUSES[1:])}")
        self._file.attrs["status"] = status
        self._file.attrs["sinking_time_s"] = np.nan if sinking_time is None else sinking_time
        self._file.attrs["message"] = message
        self._file.attrs["outcome"] = outcome
        self.flush()
        self._file.close()

    def _write_header(self, case: Case, notes: Sequence[str]) -> None:
        self._file.attrs.update(
            {
                "schema_version": SCHEMA_VERSION,
                "tool_version": version("sinkbowl"),
                "units": "SI: m, kg, s, N, Pa",
                "title": case.title,
                "case_text": case.text,
                "case_path": str(case.path.absolute()) if case.path else "",
                "case_hash": hashlib.sha256(case.text.encode()).hexdigest(),
                "status": "running",
                "message": "",
                "outcome": "",
                "notes": "\n".join(notes),
                "sinking_time_s": np.nan,
            }
        )
        for name in HISTORY:
            self._extendable(f"history/{name}", np.dtype("f8"), (), HISTORY_CHUNK)
        for name in FRAME_NUMBERS:
            self._extendable(f"frames/{name}", np.dtype("f8"), (), HISTORY_CHUNK)
        self._extendable("events/name", h5py.string_dtype(), (), 16)
        self._extendable("events/t", np.dtype("f8"), (), 16)

    def _extendable(
        self, name: str, dtype: np.dtype[Any], shape: tuple[int, ...], chunk: int, **filters: Any
    ) -> None:
        self._file.create_dataset(
            name,
            shape=(0, *shape),
            maxshape=(None, *shape),
            chunks=(chunk, *shape),
            dtype=dtype,
            **filters,
        )
        self._label(name)

    def _label(self, name: str) -> None:
        entry = next(d for d in DATASETS if d.name == name)
        dataset = self._file[name]
        dataset.attrs.update({"units": entry.units, "description": entry.description})
        for axis, dim in enumerate(entry.dims):
            dataset.dims[axis].label = dim

    def _append(self, name: str, values: Any) -> None:
        dataset = self._file[name]
        start = dataset.shape[0]
        dataset.resize(start + len(values), axis=0)
        dataset[start:] = values


def check_target(path: Path, overwrite: bool) -> None:
    """Refuse a result file that cannot or must not be written, before any long work.

    Raises
    ------
    ResultError : the folder is missing, or the file exists and is not to be replaced
    """
    if not path.parent.is_dir():
        raise ResultError(f"{path}: the folder {path.parent} does not exist. Make it first.")
    if path.is_dir():
        raise ResultError(f"{path}: is a folder. Give the name of a file, such as {path}/run.h5.")
    if path.exists() and not overwrite:
        raise ResultError(
            f"{path}: exists already. Give another name, or --overwrite to replace it."
        )
    if not os.access(path.parent, os.W_OK):
        raise ResultError(f"{path}: the folder {path.parent} is not writable.")


def _demand(what: str, given: Mapping[str, Any], wanted: tuple[str, ...]) -> None:
    missing, unknown = set(wanted) - set(given), set(given) - set(wanted)
    if missing or unknown:
        raise ValueError(f"{what}: missing {sorted(missing)}, unknown {sorted(unknown)}")
