"""Reader of result files (contents: record.py).

Reads finished runs, and the published part of running or killed ones.
"""

import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import CaseError, ResultError
from sinkbowl.common.shown import Shown, TextTable, seconds
from sinkbowl.common.sinking import EVENT_WORDS, Sinking
from sinkbowl.corrected.correction import flow_interval
from sinkbowl.files.record import FRAME_FIELDS, KIND, MEMBER_HISTORY, MOST, SCHEMA_VERSION, STATUSES
from sinkbowl.files.result_arrays import (
    History,
    columns_of,
    events_of,
    frame_times,
    grid_of,
    history_of,
)
from sinkbowl.files.safe_reading import (
    LARGEST,
    LONGEST_WORDS,
    Malformed,
    Opened,
    are_numbers,
    attributes_of,
    check_title,
    numbers,
    read,
    read_sealed,
)
from sinkbowl.scatter.interval import NUMBERS as INTERVAL_NUMBERS
from sinkbowl.scatter.interval import SHORTEST, TimeInterval, from_attributes, time_text


@dataclass(frozen=True)
class Frames:
    """The stored frames of the flow; fields are read on demand.

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
        """Fields of frame k, each (nr, nz) at cell centres; see DATASETS for their units.

        Raises ResultError if the frame cannot be read.
        """
        try:
            with Opened(self.path) as file:
                fields = {name: read(file, f"frames/{name}", 3, index=k) for name in names}
            for name, field in fields.items():
                if not are_numbers(field):
                    raise Malformed(
                        f"{name} has values that are not numbers, or impossible for water in a tub"
                    )
            return fields
        except Exception as error:  # h5py raises in many ways
            raise ResultError(f"{self.path}: frame {k} cannot be read ({error}).") from error


@dataclass(frozen=True, repr=False)
class Result(Shown):
    """The result of a flow run.

    Attributes
    ----------
    attrs : root attributes (status, title, case_text, ...)
    history : columns of equal length, one value per step, with units
    events : time of each event [s]
    grid : r_f, z_f, open_fraction, outline, grid_outline, ballast_outline; empty if the run did not
        get there
    """

    path: Path
    attrs: Mapping[str, Any]
    history: History
    events: Mapping[str, float]
    grid: Mapping[str, NDArray[np.float64]]
    frames: Frames

    @property
    def table(self) -> TextTable:
        """Case, status, outcome, sinking time, events and contents."""
        time, events = self.sinking_time, self.events
        phrase = "none" if time is None else time_text(time, self.interval)
        rows = [
            ("status", self.status),
            ("outcome", self.outcome or "none yet"),
            ("sinking time", phrase),
            *([("interval", self.interval.words)] if self.interval else []),
            *((f"at {seconds(t)}", EVENT_WORDS.get(name, name)) for name, t in events.items()),
            ("history", f"{len(self.history['t'])} steps"),
            ("frames", str(len(self.frames))),
            ("file", str(self.path)),
        ]
        if self.attrs.get("notes"):
            rows.insert(2, ("notes", str(self.attrs["notes"])))
        return TextTable(rows, self.title)

    @property
    def title(self) -> str:
        """Title of the case."""
        return str(self.attrs["title"])

    @property
    def status(self) -> str:
        """State of the run: running, finished, stopped or failed."""
        return str(self.attrs["status"])

    @property
    def outcome(self) -> str:
        """What the bowl did, in words; empty during the run."""
        return str(self.attrs["outcome"])

    @property
    def sinking_time(self) -> float | None:
        """Time until the rim passed under [s]; None if it did not (or not yet)."""
        return self._number("sinking_time_s")

    @property
    def uncertainty(self) -> float | None:
        """Numerical uncertainty of the sinking time [s], 95 %; None with one grid."""
        return self._number("sinking_time_uncertainty_s")

    def _number(self, name: str) -> float | None:
        """A root attribute; None if it is missing or nan."""
        value = float(self.attrs.get(name, math.nan))
        return None if math.isnan(value) else value

    @cached_property
    def interval(self) -> TimeInterval | None:
        """Interval of the sinking time; None if there is none, as when some members stay dry.

        For files of earlier versions it is computed from their contents. Raises ResultError if it
        is not in the file, and the case cannot be read.
        """
        if self.sinking_time is None:
            return None
        stored = from_attributes(self.attrs)
        dry = self.members > 1 and self.attrs.get("scatter_from", "") == ""
        if stored is not None or dry:
            return stored
        closed = str(self.attrs.get("hole_treatment", "")) == "closed"
        histories = [self.member(k) for k in range(self.members)]
        return flow_interval(self.case, self.member_times, histories, closed, self.uncertainty)

    @property
    def closed_air(self) -> tuple[float, float] | None:
        """Time at which air was first closed off [s], and its volume [m^3]; or None."""
        time, volume = self.events.get("air_closed_off"), self._number("air_closed_off_m3")
        return None if time is None or volume is None else (time, volume)

    @property
    def ballast_outline(self) -> NDArray[np.float64]:
        """Sections of the ballast (n, 2) of r, z [m], as `Ballast.outline`; may be empty.

        Raises ResultError if a version before wrote the file without it, and its case cannot be
        read.
        """
        if "ballast_outline" in self.grid:
            return self.grid["ballast_outline"]
        return self.case.ballast.outline

    @property
    def tub_depth(self) -> float | None:
        """Depth of the tub's floor under the still surface [m]; None for a deep tub.

        Raises ResultError if a version before wrote the file without it, and its case cannot be
        read.
        """
        return (
            self._number("tub_depth_m") if "tub_depth_m" in self.attrs else self.case.flow.tub_depth
        )

    @property
    def members(self) -> int:
        """Number of releases."""
        return int(self.attrs.get("members", 1))

    @property
    def seed(self) -> int | None:
        """Seed of the members' releases, None for a single run."""
        return int(self.attrs["seed"]) if "seed" in self.attrs else None

    @cached_property
    def member_times(self) -> tuple[float | None, ...]:
        """Sinking times of the members [s], None for a dry rim; one time for a single run.

        Raises ResultError if they cannot be read.
        """
        if self.members == 1:
            return (self.sinking_time,)
        with self._opened() as file:
            times = numbers(file, "members/sinking_time", 1, MOST["member"])
        return tuple(None if math.isnan(time) else float(time) for time in times)

    def member(self, k: int) -> dict[str, NDArray[np.float64]]:
        """History of one member, 0 the first: columns of `MEMBER_HISTORY`.

        A single run is its own only member. Raises ResultError if there is no such member, or it
        cannot be read.
        """
        if self.members == 1 and k == 0:
            return {name: self.history[name] for name in MEMBER_HISTORY}
        with self._opened() as file:
            return columns_of(file, f"members/{k}", MEMBER_HISTORY)

    @contextmanager
    def _opened(self) -> Iterator[Opened]:
        """The open file, for reading on demand."""
        try:
            with Opened(self.path) as file:
                yield file
        except Exception as error:  # h5py raises in many ways
            raise ResultError(f"{self.path}: its members cannot be read ({error}).") from error

    @property
    def grids(self) -> int:
        """Number of grids."""
        return int(self.attrs.get("grids", 1))

    @property
    def grids_warning(self) -> str:
        """Warning about the sequence of grids, in words, or empty."""
        return str(self.attrs.get("grids_warning", self.attrs.get("levels_warning", "")))

    @cached_property
    def case(self) -> Case:
        """The case, from the text in the file.

        Raises ResultError if the text cannot be read, for instance because an outline file is
        missing.
        """
        path = Path(str(self.attrs["case_path"]) or self.path)
        try:
            return parse_case(str(self.attrs["case_text"]), path.parent, path.name)
        except CaseError as error:
            raise ResultError(f"{self.path}: its case cannot be read again: {error}") from error

    def sinking(self) -> Sinking:
        """The history as a `Sinking`, as of the reduced models."""
        return Sinking(
            model="flow",
            **{name: self.history[name] for name in MEMBER_HISTORY},
            events=self.events,
            outcome=self.outcome or self.status,
            sinking_time=self.sinking_time,
        )


def read_result(path: str | Path | Result) -> Result:
    """Read a result file; a `Result` is returned unchanged.

    Raises
    ------
    ResultError : the file is missing, not a result of this schema, or damaged
    """
    if isinstance(path, Result):
        return path
    path = Path(path)
    if not path.is_file():
        verb = "run" if path.suffix else "sweep"  # of a folder
        raise ResultError(
            f"{path}: there is no such file. Compute it with: sinkbowl {verb} CASE -o {path}"
        )
    what = "is not a readable result file"
    return read_sealed(path, KIND, SCHEMA_VERSION, what, _read)


TEXTS = (
    *("title", "case_text", "case_path", "case_hash", "tool_version"),
    *("status", "message", "outcome", "notes"),
)
"""Required root attributes."""

NUMBERS = (
    *("sinking_time_uncertainty_s", "air_closed_off_m3", "tub_depth_m"),
    *("release_draft_offset_m", "release_wave_m", *INTERVAL_NUMBERS),
)
"""Optional root attributes that are numbers; nan for none."""

COUNTS = {"members": (1, MOST["member"]), "seed": (0, 2**63), "grids": (1, 100)}
"""Optional root attributes that are whole numbers; smallest and largest."""


def _read(file: Opened, path: Path) -> Result:
    attrs = attributes_of(file)
    if not all(isinstance(attrs.get(name), str) for name in TEXTS):
        raise Malformed("an attribute is missing or not text")
    check_title(str(attrs["title"]))
    for name in set(TEXTS) - {"case_text"}:
        if len(str(attrs[name])) > LONGEST_WORDS:
            raise Malformed(f"the attribute {name} has {len(str(attrs[name]))} letters")
    time = attrs.get("sinking_time_s")
    if not isinstance(time, float) or attrs["status"] not in STATUSES:
        raise Malformed("the attributes status and sinking_time_s have wrong types")
    if not (math.isnan(time) or SHORTEST <= time < math.inf):
        raise Malformed("the sinking time is not a time")
    for name in NUMBERS:
        number = attrs.get(name, 0.0)
        if not isinstance(number, float) or abs(number) > LARGEST:
            raise Malformed(f"the attribute {name} is not a number")
    for name, (least, most) in COUNTS.items():
        count = attrs.get(name, 1.0)
        if not (isinstance(count, float) and count.is_integer() and least <= count <= most):
            raise Malformed(f"the attribute {name} is not a whole number from {least} to {most}")
    grid, history = grid_of(file), history_of(file)
    last = float(history["t"][-1]) if len(history["t"]) else 0.0
    if attrs.get("members", 1.0) == 1.0 and time > last:
        raise Malformed(f"the sinking time, {time:.4g} s, is after the last step, {last:.4g} s")
    return Result(
        path=path,
        attrs=attrs,
        history=History(history),
        events=events_of(file),
        grid=grid,
        frames=Frames(path, **frame_times(file, grid)),
    )
