"""Events of a sinking, and the end of a run.

A run ends when the rim is under and the bowl full, when a bowl that floats has come to rest
part-sunk, when a plugged one has come to rest dry, when the surface gets near the top of the grid,
or when the bowl stands on the tub's floor.
"""

from dataclasses import dataclass, field, fields

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.files.recorder import Recorder
from sinkbowl.flow.grid import Array
from sinkbowl.flow.simulation import Simulation
from sinkbowl.statics.capillarity import HoleGate
from sinkbowl.statics.hydrostatics import floats

FULL = 0.99  # share of the capacity at which the bowl counts as full; the rest is drops and dimples
END_CELLS = 4.0  # cells between the outer surface and the top of the grid at which a run ends

FLOATS = "but floats: it is lighter than water and comes up again"


@dataclass
class RestWatch:
    """Detects when a floating bowl has come to rest.

    Without viscosity it would heave for ever, so means over a few heave periods are compared: the
    bowl is at rest when two successive means of draft and filling agree and the mean head is about
    0. Before the first window the means are nan, which agree with nothing.
    """

    window: float
    draft_close: float
    volume_close: float
    head_close: float = np.inf
    length: float = 0.0
    sums: Array = field(default_factory=lambda: np.zeros(3))
    means: Array = field(default_factory=lambda: np.full(3, np.nan))

    def reached(self, row: dict[str, float]) -> bool:
        """Add a row of the history; True at the end of a window that agrees with the last one."""
        dt = row["dt"]
        self.length += dt
        self.sums += dt * np.array([row["draft"], row["inner_volume"], row["head"]])
        if self.length < self.window:
            return False
        now = self.sums / self.length
        before, self.means = self.means, now
        self.length, self.sums = 0.0, np.zeros(3)
        return bool(
            abs(now[0] - before[0]) < self.draft_close
            and abs(now[1] - before[1]) < self.volume_close
            and abs(now[2]) < self.head_close
        )


def _longest_heave_period(case: Case) -> float:
    """Period of a bowl with a draft of its height, without added mass [s]; others are shorter."""
    return float(2.0 * np.pi * np.sqrt(case.bowl.rim_height / GRAVITY))


def rest_window(case: Case) -> float:
    """Averaging time [s]: five of the longest heave periods."""
    return float(5.0 * _longest_heave_period(case))


@dataclass
class EventLog:
    """Events so far [s], the last row of the history, and the outcome once the run is over."""

    recorder: Recorder
    rest: RestWatch | None
    dry_rest: RestWatch | None = None
    events: dict[str, float] = field(default_factory=dict)
    previous: dict[str, float] = field(default_factory=dict)
    outcome: str = ""

    def watches(self) -> dict[str, RestWatch]:
        """The active watches, by name; they are part of a checkpoint."""
        return {
            f.name: w for f in fields(self) if isinstance(w := getattr(self, f.name), RestWatch)
        }

    def note(self, name: str, t: float) -> None:
        """Note an event at time t [s]."""
        self.events[name] = t
        self.recorder.event(name, t)

    def watch(self, sim: Simulation, over_rim: bool, row: dict[str, float]) -> None:
        """Note events of a step and decide whether the run is over.

        over_rim: whether water stands across the rim; row: the step's readings.
        """
        case = sim.case
        rim, capacity = case.bowl.rim_height, sim.layout.bowl.inner_capacity
        if "rim_under" not in self.events and row["draft"] >= rim:
            self.note("rim_under", self._crossing(row, "draft", rim))
        if "over_rim" not in self.events and over_rim:
            self.note("over_rim", row["t"])
        full = row["inner_volume"] >= FULL * capacity and not case.base_gone
        if full and "full" not in self.events:
            self.note("full", self._crossing(row, "inner_volume", FULL * capacity))
        top = sim.ops.grid.z_f[-1] - END_CELLS * sim.layout.cell
        if full and "rim_under" in self.events:
            self.outcome = f"dips its rim and fills, {FLOATS}" if floats(case) else "sinks: full"
        elif row["draft"] + row["outer_level"] > top:
            does = "continues to fall with its rim deep under water"
            self.outcome = f"{does}, {FLOATS}" if floats(case) else f"sinks: {does}"
        elif sim.on_floor:
            self.note("on_floor", row["t"])
            if "rim_under" in self.events:
                self.outcome = "sinks: stands on the tub's floor, its rim under water"
            else:
                self.outcome = "stands on the tub's floor before its rim is under"
        elif sim.gate is not None and self.dry_rest is not None:
            self._watch_gate(sim, sim.gate, self.dry_rest, row)
        elif self.rest is not None and self.rest.reached(row):
            self.note("half_sunk", row["t"])
            self.outcome = f"floats part-sunk with draft {1e3 * self.rest.means[0]:.1f} mm"
        self.previous = row

    def _watch_gate(
        self, sim: Simulation, gate: HoleGate, rest: RestWatch, row: dict[str, float]
    ) -> None:
        """Note when the hole's meniscus breaks, or end the run if it holds."""
        if sim.try_gate():
            self.note("gate_open", row["t"])
        elif rest.reached(row):
            head = rest.means[0] - sim.case.bowl.inner_edge_height
            self.outcome = (
                f"plugged: the hole's meniscus holds {1e3 * gate.breakthrough_head:.1f} mm of "
                f"head, {1e3 * head:.1f} mm act on it"
            )

    def _crossing(self, row: dict[str, float], name: str, value: float) -> float:
        """Time at which a reading passed a value, linear between two rows [s]."""
        before = self.previous
        if not before or row[name] == before[name]:
            return row["t"]
        share = (value - before[name]) / (row[name] - before[name])
        return float(before["t"] + np.clip(share, 0.0, 1.0) * (row["t"] - before["t"]))


def cut_short_words(case: Case) -> str:
    """Outcome of a run that ends after the rim was under and before the bowl is full."""
    text = "the rim was under; the time after that was not computed to the end"
    return f"dips its rim, but floats: {text}" if floats(case) else f"sinks: {text}"


def open_log(case: Case, recorder: Recorder) -> EventLog:
    """An empty log, with watches for a bowl that floats and for one that may be plugged.

    Tolerances: 0.5 % of height and capacity; of a floating bowl also 2 % of the height as head.
    """
    height, period = case.bowl.rim_height, _longest_heave_period(case)
    close = 5e-3 * height, 5e-3 * case.bowl.inner_capacity
    rest = RestWatch(rest_window(case), *close, 0.02 * height) if floats(case) else None
    dry = RestWatch(period, *close) if case.flow.surface_tension else None
    return EventLog(recorder, rest, dry)
