"""Progress of a run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

import numpy as np

from sinkbowl.flow.simulation import Simulation
from sinkbowl.running.events import FULL
from sinkbowl.running.job_queue import Pace

PROGRESS_EVERY = 0.1
"""Wall time between two calls [s]."""


@dataclass(frozen=True)
class Progress:
    """Progress of a run.

    t [s], draft [m] and step; fraction_done 0..1, estimated from draft and filling; wall_seconds so
    far and remaining_seconds, None if unknown.
    """

    t: float
    draft: float
    fraction_done: float
    wall_seconds: float
    remaining_seconds: float | None
    step: int


@dataclass
class ProgressReporter:
    """Calls `tell` with the state of a run; the estimate uses only this session's part.

    The clock starts after the first step, which may compile the kernels. The fraction done never
    decreases, although bowl and fountain may move back.
    """

    sim: Simulation
    tell: Callable[[Progress], None] | None
    pace: Pace | None = None
    last_report: float = 0.0
    furthest: float = 0.0

    def after(self, row: dict[str, float], over: bool) -> None:
        """Report after a step; `over` at the last one."""
        now = monotonic()
        self.pace = self.pace or Pace(self._share_done(row))
        if self.tell is None or not (over or now - self.last_report > PROGRESS_EVERY):
            return
        self.last_report = now
        self.furthest = max(self.furthest, self._share_done(row))
        done = 1.0 if over else self.furthest
        wall, left = self.pace.seconds, self.pace.left(done)
        self.tell(Progress(row["t"], row["draft"], done, wall, left, self.sim.state.step))

    def _share_done(self, row: dict[str, float]) -> float:
        bowl, start = self.sim.case.bowl, self.sim.start_draft
        deep = (row["draft"] - start) / max(bowl.rim_height - start, 1e-9)
        full = row["inner_volume"] / (FULL * bowl.inner_capacity)
        return float(np.clip(0.5 * (min(deep, 1.0) + min(full, 1.0)), 0.0, 1.0))
