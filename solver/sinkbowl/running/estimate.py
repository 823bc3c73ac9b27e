"""Wall time of a run, told before it starts: expected steps times the measured cost of a step.

The cost is measured on the run itself: it is begun in a temporary file and stopped after a moment,
compilation left out. So the figure belongs to this case, on this machine, as busy as it is now.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from sinkbowl.case.case import Case
from sinkbowl.running.forecast import Forecast, forecast
from sinkbowl.running.runner import Progress, run

MEASURE_FOR = 1.5
"""Wall time over which steps are timed [s]."""

LEAST_STEPS = 20
"""Steps that are timed however long they take."""


@dataclass(frozen=True)
class Estimate:
    """Expected cost of a run.

    Attributes
    ----------
    work : cells, steps and duration
    seconds_per_step : measured
    steps_timed : over how many steps
    """

    work: Forecast
    seconds_per_step: float
    steps_timed: int

    @property
    def seconds(self) -> float:
        """Expected wall time [s], compilation not counted."""
        return self.work.steps * self.seconds_per_step


class _Stopwatch:
    """Progress callback that times steps and then stops the run."""

    def __init__(self) -> None:
        self.first: Progress | None = None
        self.last: Progress | None = None

    def __call__(self, now: Progress) -> None:
        self.last = now
        if self.first is None:
            self.first = now
        elif (
            now.wall_seconds - self.first.wall_seconds > MEASURE_FOR
            and now.step - self.first.step >= LEAST_STEPS
        ):
            raise KeyboardInterrupt


def estimate(case: Case) -> Estimate:
    """Expected wall time of a run; takes a moment, compiles the kernels where they are not yet.

    Raises
    ------
    CaseError : the case cannot be computed
    RunError : the run fails in its first steps
    """
    work, watch = forecast(case), _Stopwatch()
    with TemporaryDirectory(prefix="sinkbowl-") as folder:
        done = run(case, Path(folder) / "timed.h5", progress=watch)
    if watch.first is None or watch.last is None or watch.last.step == watch.first.step:
        return Estimate(work, done.wall_seconds / done.steps, done.steps)
    steps = watch.last.step - watch.first.step
    return Estimate(work, (watch.last.wall_seconds - watch.first.wall_seconds) / steps, steps)
