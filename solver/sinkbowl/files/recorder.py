"""Writer of the result file: one HDF5 file per run, updated during the run.

The result is always replaced as a whole (work_file.py), with a checkpoint from which the run can
continue (checkpoint.py). A killed run leaves the last published result, with status "running".
Readers can open the file during the run.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError, RunError
from sinkbowl.files import checkpoint
from sinkbowl.files.checkpoint import Parts
from sinkbowl.files.record import (
    FRAME_FIELDS,
    FRAME_NUMBERS,
    GRID,
    HISTORY,
    HISTORY_CHUNK,
    MOST,
    RUNNING,
    STATUSES,
    extendable,
    label,
    lay_out_file,
)
from sinkbowl.files.result import Result
from sinkbowl.files.safe_reading import (
    LARGEST,
    USER_BLOCK,
    Malformed,
    Opened,
    are_numbers,
    attribute_of,
    group_at,
)
from sinkbowl.files.work_file import WorkFile, check_target, open_work_file
from sinkbowl.scatter.interval import TimeInterval, as_attributes

PARTS = ("history", "events", "frames")  # groups whose rows a checkpoint counts


class Recorder:
    """Writer of one result file; a context manager, made by :meth:`create`.

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
        """Start a result with status "running"; it appears at the first :meth:`publish`.

        path : file to write; its folder must exist
        case : the case, whose text is stored verbatim
        overwrite : replace an existing file (at the first publish, not before)
        notes : for readers, on how the case was computed

        Raises ResultError if the file exists and must not be replaced, another run writes it, or it
        is not writable.
        """
        path = Path(path)
        check_target(path, overwrite)
        work = open_work_file(path)
        recorder = cls(h5py.File(work, "w", userblock_size=USER_BLOCK), work)
        lay_out_file(recorder._file, case, notes)
        return recorder

    def go_on_with(self, before: Result, parts: Parts) -> None:
        """Continue an interrupted result from its checkpoint.

        Every number is read safely and written again, so that the file is as if this run had
        written all of it.

        before : the interrupted result, of the same case and grid
        parts : targets of the checkpoint

        Raises ResultError if the checkpoint is missing, damaged, or has another shape or time than
        the history; the recorder is then closed and the file unchanged.
        """
        try:
            with Opened(before.path) as file:
                if "checkpoint" not in file:
                    raise Malformed("it has no checkpoint")
                group = group_at(file, "checkpoint")
                checkpoint.load(group, parts)
                rows = {name: attribute_of(group, f"{name}_rows") for name in PARTS}
            there = (len(before.history["t"]), len(before.events), len(before.frames))
            for (name, count), held in zip(rows.items(), there, strict=True):
                if count not in range(held + 1):
                    raise Malformed(f"the checkpoint counts {count} {name} of {held}")
            steps, events, frames = (int(count) for count in rows.values())
            self._refill(before, steps, events, frames)
        except Exception as error:  # h5py raises in many ways on files that are damaged
            self.abandon()
            raise ResultError(f"{self.path}: cannot be resumed: {error}.") from error

    def _refill(self, before: Result, steps: int, events: int, frames: int) -> None:
        """Copy a result up to its checkpoint, with the attributes of its start."""
        for name, value in before.attrs.items():
            if isinstance(value, str) or name not in self._file.attrs:
                self._file.attrs[name] = value
        self._file.attrs.update(RUNNING)
        for name in HISTORY:
            self._append(f"history/{name}", before.history[name][:steps])
        self._stored = steps
        for name, t in list(before.events.items())[:events]:
            self.event(name, t)
        for k in range(frames):
            t, draft, speed = (float(getattr(before.frames, name)[k]) for name in FRAME_NUMBERS)
            self.frame(t, draft, speed, before.frames.fields(k))

    def abandon(self) -> None:
        """Close and keep the last published result."""
        self._file.close()
        self._work.discard()

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
        """Store the grid and create the datasets of frames.

        arrays : r_f (nr+1), z_f (nz+1), open_fraction (nr, nz), the outlines (k, 2) [m]
        """
        _demand("grid", arrays, GRID)
        for name in GRID:
            self._file[f"grid/{name}"] = np.asarray(arrays[name], dtype=float)
            label(self._file, f"grid/{name}")
        shape = (len(arrays["r_f"]) - 1, len(arrays["z_f"]) - 1)
        for name in FRAME_FIELDS:
            extendable(
                self._file,
                f"frames/{name}",
                np.dtype("f4"),
                shape,
                chunk=1,
                compression="gzip",
                compression_opts=1,
                shuffle=True,
            )

    def attribute(self, name: str, value: str | float) -> None:
        """Set a root attribute of the file."""
        self._file.attrs[name] = value

    def append_history(self, row: Mapping[str, float]) -> None:
        """Add one step; ``row`` has exactly the columns of ``HISTORY``.

        Raises RunError if readers refuse the values: not numbers, or too many steps.
        """
        _demand("history", row, HISTORY)
        values = tuple(float(row[name]) for name in HISTORY)
        if not all(abs(value) <= LARGEST for value in values):
            named = zip(HISTORY, values, strict=True)
            wrong = ", ".join(f"{name} {v:g}" for name, v in named if not abs(v) <= LARGEST)
            raise RunError(
                f"A step gives values that are not numbers: {wrong}. Try a smaller flow.cell."
            )
        if self._stored + len(self._rows) >= MOST["step"]:
            raise RunError(f"It needs more than {MOST['step']} steps. Use coarser cells.")
        self._rows.append(values)
        if len(self._rows) >= HISTORY_CHUNK:
            self._store_rows()

    def event(self, name: str, t: float) -> None:
        """Note an event at time t [s]."""
        self._append("events/name", [name])
        self._append("events/t", [t])

    def frame(
        self, t: float, draft: float, speed: float, fields: Mapping[str, NDArray[np.floating]]
    ) -> None:
        """Add one frame of the flow.

        t, draft, speed : time [s], draft [m] and its rate [m/s]
        fields : volume_fraction, pressure [Pa], u_r, u_z [m/s], each (nr, nz) at cell centres

        Raises RunError if they are not numbers, which readers refuse.
        """
        _demand("frames", fields, FRAME_FIELDS)
        if not all(map(are_numbers, fields.values())):
            raise RunError(
                "A field of the flow has values that are not numbers. Try a smaller flow.cell."
            )
        for name in FRAME_FIELDS:
            self._append(f"frames/{name}", np.asarray(fields[name], dtype=np.float32)[None])
        for name, value in zip(FRAME_NUMBERS, (t, draft, speed), strict=True):
            self._append(f"frames/{name}", [value])

    def checkpoint(self, parts: Parts) -> None:
        """Store a checkpoint and publish the result so far; RunError as `publish`."""
        self._store_rows()
        group = self._file.require_group("checkpoint")
        checkpoint.save(group, parts)
        for name in PARTS:
            group.attrs[f"{name}_rows"] = self._file[f"{name}/t"].shape[0]
        self.publish()

    def publish(self) -> None:
        """Update the result.

        Raises RunError if it cannot be written, for instance because the disk is full; the last
        published one stays.
        """
        self._store_rows()
        self._file.flush()
        self._work.publish()
        self._check_written()
        self._published_at = self.last_row().get("t", 0.0)

    def last_row(self) -> dict[str, float]:
        """The last row of the history; empty if there is none."""
        self._store_rows()
        rows = self._stored
        return {name: float(self._file[f"history/{name}"][-1]) for name in HISTORY if rows}

    def column(self, name: str) -> NDArray[np.float64]:
        """A column of the history so far."""
        self._store_rows()
        return np.asarray(self._file[f"history/{name}"][:])

    def events(self) -> dict[str, float]:
        """Events noted so far [s]."""
        names, times = self._file["events/name"][:], self._file["events/t"][:]
        return {name.decode(): float(t) for name, t in zip(names, times, strict=True)}

    def finish(
        self,
        status: str,
        sinking_time: float | None,
        message: str = "",
        outcome: str = "",
        interval: TimeInterval | None = None,
    ) -> None:
        """Write the end of the run and close the file.

        status : "finished", "stopped" or "failed"
        sinking_time : time until the rim passed under [s], None if it did not
        message : why the run ended
        outcome : what the bowl did, in words
        interval : of the sinking time
        """
        if status not in STATUSES[1:]:
            raise ValueError(f"status {status!r} is none of {', '.join(STATUSES[1:])}")
        self._file.attrs["status"] = status
        self._file.attrs["sinking_time_s"] = np.nan if sinking_time is None else sinking_time
        self._file.attrs.update(as_attributes(interval))
        self._file.attrs["message"] = message
        self._file.attrs["outcome"] = outcome
        self._store_rows()
        self._file.close()
        self._work.publish_last()
        self._check_written()

    def _store_rows(self) -> None:
        """Write the pending rows, again if an interruption came between two columns."""
        rows = self._stored + len(self._rows)
        for k, name in enumerate(HISTORY if self._rows else ()):
            dataset = self._file[f"history/{name}"]
            dataset.resize(rows, axis=0)
            dataset[self._stored :] = [row[k] for row in self._rows]
        self._stored = rows
        self._rows.clear()

    def _check_written(self) -> None:
        error = self._work.error
        if error is None:
            return
        self.abandon()
        kept = "No part of the run is kept. Free disk space and start it again."
        if self._published_at is not None:
            kept = (
                f"It is kept as it was at t = {self._published_at:.4g} s. Free disk space, then "
                "continue with --resume."
            )
        raise RunError(f"{self.path}: cannot be written any more ({error.strerror}). {kept}")

    def _append(self, name: str, values: Any) -> None:
        dataset = self._file[name]
        start = dataset.shape[0]
        dataset.resize(start + len(values), axis=0)
        dataset[start:] = values


def _demand(what: str, given: Mapping[str, Any], wanted: tuple[str, ...]) -> None:
    missing, unknown = set(wanted) - set(given), set(given) - set(wanted)
    if missing or unknown:
        raise ValueError(f"{what}: missing {sorted(missing)}, unknown {sorted(unknown)}")
