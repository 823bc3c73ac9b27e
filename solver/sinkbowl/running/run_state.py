"""The state of a run: simulation, recorder, events, frames; new or resumed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl.common.sinking import closed_air_words
from sinkbowl.design.checking import run_notes
from sinkbowl.files.checkpoint import DISTURBANCE
from sinkbowl.files.recorder import Recorder
from sinkbowl.files.result import Result
from sinkbowl.flow.diagnostics import (
    ConservationBudget,
    Diagnostics,
    centre_fields,
    make_diagnostics,
    open_budget,
)
from sinkbowl.flow.effects.pockets import ClosedAir
from sinkbowl.flow.grid import cell_volumes
from sinkbowl.flow.simulation import Simulation
from sinkbowl.running.events import EventLog, open_log
from sinkbowl.running.numerical_checks import ConservationWatch, guarded_step, next_step
from sinkbowl.scatter import UNDISTURBED, Disturbance

MOST_FRAMES = 300  # frames after which the interval between them doubles


@dataclass
class FramePace:
    """Times of frames: interval and time of the next [s], and their number."""

    interval: float
    next: float = 0.0
    frames: int = 0

    def taken(self) -> None:
        """Count a frame; after every MOST_FRAMES the interval doubles."""
        self.frames += 1
        self.interval *= 2.0 if self.frames % MOST_FRAMES == 0 else 1.0
        self.next += self.interval


@dataclass
class RunState:
    """The state of a run."""

    sim: Simulation
    diagnostics: Diagnostics
    recorder: Recorder
    log: EventLog
    budget: ConservationBudget
    pace: FramePace
    watch: ConservationWatch
    closed_air: FirstClosedAir

    def open_run(self) -> None:
        """Record grid, start and first frame of a new run."""
        depth = self.sim.case.flow.tub_depth
        self.recorder.attribute("hole_treatment", self.sim.hole_treatment)
        self.recorder.attribute("tub_depth_m", np.nan if depth is None else depth)
        self.recorder.grid(grid_arrays(self.sim))
        self.log.note("start", 0.0)
        self._frame()
        self.checkpoint()

    def step(self) -> dict[str, float]:
        """One step with its readings, events and frame; returns its row of the history."""
        sim, log = self.sim, self.log
        dt = next_step(sim)
        body = sim.body()
        report = guarded_step(sim, body, dt)
        self.budget.book(sim, report, body.extra_lift)
        row = self.diagnostics.row(sim, self.budget, report, dt)
        self.watch.look(sim, self.budget, row, "rim_under" in log.events)
        self.recorder.append_history(row)
        log.watch(sim, self.diagnostics.over_rim(sim), row)
        if self.closed_air.look(sim, report.air):
            log.note(AIR_EVENT, sim.state.time)
            self.recorder.attribute(AIR_VOLUME, self.closed_air.volume)
        if sim.state.time >= self.pace.next or log.outcome:
            self._frame()
        return row

    def air_notes(self) -> tuple[str, ...]:
        """Sentence on the time and volume of closed-off air, if any."""
        first = self.log.events.get(AIR_EVENT)
        text = closed_air_words(None if first is None else (first, self.closed_air.volume))
        if not text:
            return ()
        if self.sim.case.flow.air == "void":
            return (f'{text}; it has atmospheric pressure (flow.air = "void").',)
        return (
            f"{text}; it keeps its amount and pushes. Rings of air cannot let water past as "
            'bubbles do: flow.air = "void" gives the other limit.',
        )

    def notes(self) -> tuple[str, ...]:
        """Notes on the case and on water that has left the grid."""
        return (*notes_of(self.sim), *self.watch.notes(self.sim))

    def checkpoint(self) -> None:
        """Publish the result with a checkpoint."""
        self.recorder.checkpoint(self.parts())

    def parts(self) -> dict[str, Any]:
        """Contents of a checkpoint; everything else follows from the case."""
        return {
            "flow": self.sim.state,
            "ledgers": self.budget,
            "frame_pace": self.pace,
            "ledger_watch": self.watch,
            "closed_air": self.closed_air,
            **self.log.watches(),
        }

    def _frame(self) -> None:
        sim = self.sim
        self.recorder.frame(sim.state.time, sim.draft, sim.speed, centre_fields(sim))
        self.pace.taken()


def begin(
    sim: Simulation,
    output: Path,
    overwrite: bool,
    frame_interval: float,
    disturbance: Disturbance = UNDISTURBED,
) -> RunState:
    """A run state at release, which differs from the case by `disturbance`.

    Nothing is published yet.
    """
    recorder = Recorder.create(output, sim.case, overwrite, notes_of(sim))
    for part, name in DISTURBANCE.items():
        recorder.attribute(name, getattr(disturbance, part))
    return _run_state(sim, recorder, frame_interval)


def resume_run(sim: Simulation, before: Result) -> RunState:
    """The run state of the last checkpoint in a result.

    Raises ResultError as `Recorder.create` and `Recorder.go_on_with`, or if the checkpoint does not
    fit this simulation.
    """
    recorder = Recorder.create(before.path, sim.case, True, notes_of(sim))
    recorder.grid(grid_arrays(sim))
    run_state = _run_state(sim, recorder, 0.0)
    recorder.go_on_with(before, run_state.parts())
    state, rows, last = sim.state, sim.ops.grid.shape[1], recorder.last_row()
    sound = 0 <= state.bottom < state.top <= rows and run_state.pace.interval > 0.0
    if not sound or last.get("t", 0.0) != state.time:
        recorder.abandon()
        raise ResultError(
            f"{before.path}: cannot be resumed: the checkpoint and the history do not match."
        )
    run_state.log.events = recorder.events()
    if "gate_open" in run_state.log.events:
        sim.open_gate()
    run_state.log.previous = last
    run_state.checkpoint()  # a run stopped before its next one can be resumed again
    return run_state


def _run_state(sim: Simulation, recorder: Recorder, frame_interval: float) -> RunState:
    return RunState(
        sim,
        make_diagnostics(sim),
        recorder,
        open_log(sim.case, recorder),
        open_budget(sim),
        FramePace(frame_interval),
        ConservationWatch(),
        FirstClosedAir(),
    )


def notes_of(sim: Simulation) -> tuple[str, ...]:
    """Notes on where grid and run differ from the case and from `check`."""
    return (*sim.notes(), *run_notes(sim.case))


def grid_arrays(sim: Simulation) -> dict[str, np.ndarray]:
    """The grid for the result file, as laid out, with the tub's floor at its bottom."""
    grid, solid = sim.ops.grid, sim.ops.solid
    return {
        "r_f": grid.r_f,
        "z_f": grid.z_f,
        "open_fraction": solid.volume / cell_volumes(grid),
        "outline": sim.case.bowl.polygon,
        "grid_outline": sim.layout.bowl.polygon,
        "ballast_outline": sim.case.ballast.outline,
    }


LEAST_SHARE = 0.01
"""Minimum closed-off volume as a share of the capacity; bubbles in the spray are smaller."""

AIR_EVENT = "air_closed_off"
AIR_VOLUME = "air_closed_off_m3"


@dataclass
class FirstClosedAir:
    """volume: of the air first closed off [m^3], 0 until then."""

    volume: float = 0.0

    def look(self, sim: Simulation, air: ClosedAir) -> bool:
        """After a step: whether air is closed off inside the bowl for the first time."""
        if self.volume > 0.0 or not len(air.volume):
            return False
        inside = np.unique(sim.state.pocket[sim.inside & ~sim.state.liquid])
        volumes = 2.0 * np.pi * air.volume[inside[inside > 0] - 1]
        largest = float(volumes.max(initial=0.0))
        if largest < LEAST_SHARE * sim.layout.bowl.inner_capacity:
            return False
        self.volume = largest
        return True
