"""A run under way: the voyage and all that is kept of it, begun or taken up again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sinkbowl.before.doubts import run_notes
from sinkbowl.common.errors import ResultError
from sinkbowl.files.closed_air_words import closed_air_words
from sinkbowl.files.recorder import Recorder
from sinkbowl.files.result import Result
from sinkbowl.files.resumption import note_disturbance
from sinkbowl.flow.gauge import Gauge, Ledgers, centre_fields, make_gauge, open_ledgers
from sinkbowl.flow.grid.grid import cell_volumes
from sinkbowl.flow.voyage import Voyage
from sinkbowl.running.closed_air import EVENT as AIR_EVENT
from sinkbowl.running.closed_air import VOLUME as AIR_VOLUME
from sinkbowl.running.closed_air import FirstClosedAir
from sinkbowl.running.events import EventLog, open_log
from sinkbowl.running.soundness import LedgerWatch, guarded_step, next_step
from sinkbowl.scatter.disturbance import UNDISTURBED, Disturbance

MOST_FRAMES = 300
"""Frames after which the interval between them doubles."""


@dataclass
class FramePace:
    """When frames are taken: interval and time of the next [s], and how many there are."""

    interval: float
    next: float = 0.0
    frames: int = 0

    def taken(self) -> None:
        """Count a frame; every MOST_FRAMES of them the interval doubles."""
        self.frames += 1
        self.interval *= 2.0 if self.frames % MOST_FRAMES == 0 else 1.0
        self.next += self.interval


@dataclass
class Passage:
    """A run under way."""

    voyage: Voyage
    gauge: Gauge
    recorder: Recorder
    log: EventLog
    ledgers: Ledgers
    pace: FramePace
    watch: LedgerWatch
    closed_air: FirstClosedAir

    def depart(self) -> None:
        """Record grid, start and first frame of a run that begins."""
        depth = self.voyage.case.flow.tub_depth
        self.recorder.attribute("hole_treatment", self.voyage.hole_treatment)
        self.recorder.attribute("tub_depth_m", np.nan if depth is None else depth)
        self.recorder.grid(grid_arrays(self.voyage))
        self.log.note("start", 0.0)
        self._frame()
        self.checkpoint()

    def step(self) -> dict[str, float]:
        """One step with its readings, events and frame; returns its row of the history."""
        voyage, log = self.voyage, self.log
        dt = next_step(voyage)
        body = voyage.body()
        report = guarded_step(voyage, body, dt)
        self.ledgers.book(voyage, report, body.extra_lift)
        row = self.gauge.row(voyage, self.ledgers, report, dt)
        self.watch.look(voyage, self.ledgers, row, "rim_under" in log.events)
        self.recorder.append_history(row)
        log.watch(voyage, self.gauge.over_rim(voyage), row)
        if self.closed_air.look(voyage, report.air):
            self._note_closed_air()
        if voyage.state.time >= self.pace.next or log.outcome:
            self._frame()
        return row

    def _note_closed_air(self) -> None:
        """When air was first closed off, and how much."""
        self.log.note(AIR_EVENT, self.voyage.state.time)
        self.recorder.attribute(AIR_VOLUME, self.closed_air.volume)

    def air_notes(self) -> tuple[str, ...]:
        """When air was closed off in the bowl, and how much, in a sentence where it was."""
        first = self.log.events.get(AIR_EVENT)
        told = closed_air_words(None if first is None else (first, self.closed_air.volume))
        if not told:
            return ()
        if self.voyage.case.flow.air == "void":
            return (f'{told}; it does not resist (flow.air = "void").',)
        return (
            f"{told}; it keeps its amount and pushes. Rings of air cannot let water past as "
            'bubbles do: flow.air = "void" gives the other extreme.',
        )

    def notes(self) -> tuple[str, ...]:
        """Of the case and of what has left the grid so far."""
        return (*notes_of(self.voyage), *self.watch.notes(self.voyage))

    def checkpoint(self) -> None:
        """Publish the result with what the run needs to go on from here."""
        self.recorder.checkpoint(self.parts())

    def parts(self) -> dict[str, Any]:
        """What a checkpoint holds; all else follows from the case."""
        return {
            "flow": self.voyage.state,
            "ledgers": self.ledgers,
            "frame_pace": self.pace,
            "ledger_watch": self.watch,
            "closed_air": self.closed_air,
            **self.log.watches(),
        }

    def _frame(self) -> None:
        voyage = self.voyage
        self.recorder.frame(voyage.state.time, voyage.draft, voyage.speed, centre_fields(voyage))
        self.pace.taken()


def begin(
    voyage: Voyage,
    output: Path,
    overwrite: bool,
    frame_interval: float,
    disturbance: Disturbance = UNDISTURBED,
) -> Passage:
    """A passage at the moment of release, which differs from the case by `disturbance`.

    Nothing is published before it departs.
    """
    recorder = Recorder.create(output, voyage.case, overwrite, notes_of(voyage))
    note_disturbance(recorder, disturbance)
    return _passage(voyage, recorder, frame_interval)


def take_up(voyage: Voyage, before: Result) -> Passage:
    """The passage as the last checkpoint in its result left it.

    Raises
    ------
    ResultError : see `Recorder.create` and `Recorder.go_on_with`; or the checkpoint's numbers are
        none of this voyage
    """
    recorder = Recorder.create(before.path, voyage.case, True, notes_of(voyage))
    recorder.grid(grid_arrays(voyage))
    passage = _passage(voyage, recorder, 0.0)
    recorder.go_on_with(before, passage.parts())
    state, rows, last = voyage.state, voyage.ops.grid.shape[1], recorder.last_row()
    sound = 0 <= state.bottom < state.top <= rows and passage.pace.interval > 0.0
    if not sound or last.get("t", 0.0) != state.time:
        recorder.abandon()
        raise ResultError(
            f"{before.path}: cannot be gone on with: the checkpoint and the history do not fit."
        )
    passage.log.events = recorder.events()
    if "gate_open" in passage.log.events:
        voyage.open_gate()
    passage.log.previous = last
    return passage


def _passage(voyage: Voyage, recorder: Recorder, frame_interval: float) -> Passage:
    return Passage(
        voyage,
        make_gauge(voyage),
        recorder,
        open_log(voyage.case, recorder),
        open_ledgers(voyage),
        FramePace(frame_interval),
        LedgerWatch(),
        FirstClosedAir(),
    )


def notes_of(voyage: Voyage) -> tuple[str, ...]:
    """What a reader should know: where grid and run part from the case, and from `check`."""
    return (*voyage.notes(), *run_notes(voyage.case))


def grid_arrays(voyage: Voyage) -> dict[str, np.ndarray]:
    """The grid as the result file holds it: as it was laid, a tub's floor at its bottom."""
    grid, solid = voyage.ops.grid, voyage.ops.solid
    return {
        "r_f": grid.r_f,
        "z_f": grid.z_f,
        "open_fraction": solid.volume / cell_volumes(grid),
        "outline": voyage.case.bowl.polygon,
        "grid_outline": voyage.layout.bowl.polygon,
        "ballast_outline": voyage.case.ballast_outline,
    }
