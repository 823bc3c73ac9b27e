"""The result file: one HDF5 file a run, written while the run goes on (read it with result.py).

``DATASETS`` is the one table of what a result file holds. Everything is SI; the grid is fixed to
the bowl (z = 0 at its lowest outer point), velocities are those of the laboratory.

The result is brought up to date by replacing it whole (work_file.py), each time with a checkpoint
from which the run can go on (checkpoint.py). A run that is killed leaves the result as it was last
published, with status "running", and a reader may open it while the run goes on.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.errors import ResultError, RunError
from sinkbowl.running import checkpoint
from sinkbowl.running.checkpoint import Parts
from sinkbowl.running.work_file import WorkFile

if TYPE_CHECKING:
    from sinkbowl.case.case import Case

SCHEMA_VERSION = "1"
STATUSES = ("running", "finished", "stopped", "failed")
HISTORY_CHUNK = 2048  # rows; as many wait in memory at most


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
    """Writer of one result file; a context manager. Make one with :meth:`create` or `reopen`.

    Leaving the ``with`` block without :meth:`finish` marks the run "failed".
    """

    def __init__(self, file: h5py.File, work: WorkFile) -> None:
        self.path = work.target
        self._file = file
        self._work = work
        self._rows: list[tuple[float, ...]] = []
        self._stored = 0
        self._published_at: float | None = None

    @classmethod
    def create(
        cls, path: str | Path, case: Case, overwrite: bool = False, notes: Sequence[str] = ()
    ) -> Self:
        """Start a result with status "running"; it takes its place at the first :meth:`publish`.

        Parameters
        ----------
        path : file to write; its folder must exist
        case : the case, whose text goes into the file verbatim
        overwrite : replace an existing file (it goes with the first publish, not before)
        notes : what a reader should know of how the case was computed

        Raises
        ------
        ResultError : the file exists and is not to be replaced, is being written by another run,
            or cannot be written
        """
        path = Path(path)
        check_target(path, overwrite)
        work = _work_file(path)
        recorder = cls(h5py.File(work, "w"), work)
        recorder._write_header(case, notes)
        return recorder

    @classmethod
    def reopen(cls, path: str | Path, parts: Parts) -> Self:
        """Go on with an interrupted result from its checkpoint.

        Parameters
        ----------
        parts : what the checkpoint is loaded into

        Raises
        ------
        ResultError : the file is being written by another run, or its checkpoint is missing,
            damaged or of another shape; the file is as it was then
        """
        path = Path(path)
        work = _work_file(path, path)
        try:
            with ExitStack() as undo:
                undo.callback(work.discard)
                file = undo.enter_context(h5py.File(work, "r+"))
                if "checkpoint" not in file:
                    raise ResultError("it holds no checkpoint")
                checkpoint.load(file["checkpoint"], parts)
                recorder = cls(file, work)
                recorder._cut_back()
                undo.pop_all()
        except (ResultError, OSError, KeyError) as error:
            raise ResultError(f"{path}: cannot be gone on with: {error}.") from error
        return recorder

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if not self._file:
            return
        why = str(error) or kind.__name__ if kind else "The run ended without a final status."
        try:
            self.finish("failed", None, why)
        except RunError:
            if error is None:
                raise

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

    def append_history(self, row: Mapping[str, float]) -> None:
        """Add one step; ``row`` holds exactly the columns of ``HISTORY``."""
        _demand("history", row, HISTORY)
        self._rows.append(tuple(float(row[name]) for name in HISTORY))
        if len(self._rows) >= HISTORY_CHUNK:
            self._store_rows()

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

    def checkpoint(self, parts: Parts) -> None:
        """Store what the run needs to go on from here, and publish the result so far.

        Raises
        ------
        RunError : as `publish`
        """
        self._store_rows()
        group = self._file.require_group("checkpoint")
        checkpoint.save(group, parts)
        for name in ("history", "events", "frames"):
            group.attrs[f"{name}_rows"] = self._file[f"{name}/t"].shape[0]
        self.publish()

    def publish(self) -> None:
        """Bring the result up to date.

        Raises
        ------
        RunError : it cannot be written, for instance because the disk is full; it is then as it
            was published before
        """
        self._store_rows()
        self._file.flush()
        self._work.publish()
        self._check_written()
        self._published_at = self.last_row().get("t", 0.0)

    def last_row(self) -> dict[str, float]:
        """The last row of the history; empty where there is none."""
        self._store_rows()
        rows = self._stored
        return {name: float(self._file[f"history/{name}"][-1]) for name in HISTORY if rows}

    def events(self) -> dict[str, float]:
        """Events noted so far [s]."""
        names, times = self._file["events/name"][:], self._file["events/t"][:]
        return {name.decode(): float(t) for name, t in zip(names, times, strict=True)}

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
        self._store_rows()
        self._file.close()
        self._work.publish_last()
        self._check_written()

    def _store_rows(self) -> None:
        """Write the waiting rows; over again where an interruption came between two columns."""
        rows = self._stored + len(self._rows)
        for k, name in enumerate(HISTORY if self._rows else ()):
            dataset = self._file[f"history/{name}"]
            dataset.resize(rows, axis=0)
            dataset[self._stored :] = [row[k] for row in self._rows]
        self._stored = rows
        self._rows.clear()

    def _cut_back(self) -> None:
        """Drop what was written after the checkpoint, and the end that the run had."""
        for name in ("history", "events", "frames"):
            rows = int(self._file["checkpoint"].attrs[f"{name}_rows"])
            for column in columns(name):
                self._file[f"{name}/{column}"].resize(rows, axis=0)
        self._stored = self._file["history/t"].shape[0]
        self._file.attrs.update(RUNNING)

    def _check_written(self) -> None:
        error = self._work.error
        if error is None:
            return
        self._file.close()
        self._work.discard()
        kept = "Nothing of the run is kept. Make room and start it again."
        if self._published_at is not None:
            kept = (
                f"It is kept as it was at t = {self._published_at:.4g} s. Make room, then go on "
                "with --resume."
            )
        raise RunError(f"{self.path}: cannot be written any more ({error.strerror}). {kept}")

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
                "notes": "\n".join(notes),
            }
            | RUNNING
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


RUNNING = {"status": "running", "message": "", "outcome": "", "sinking_time_s": np.nan}
"""Root attributes of a run that has not ended."""


def _work_file(path: Path, content: Path | None = None) -> WorkFile:
    try:
        return WorkFile(path, content)
    except OSError as error:
        raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error


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
