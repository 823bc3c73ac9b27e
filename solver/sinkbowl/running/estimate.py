"""Estimate of the wall time of a run: expected steps times the measured cost of a step.

The cost is measured on the run itself: it is started in a temporary file and stopped soon, without
compilation. The estimate is for this case on this machine at its present load.
"""

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic, process_time

from sinkbowl.case.case import Case
from sinkbowl.common.errors import RunError
from sinkbowl.files.safe_writing import scratch
from sinkbowl.running.ensemble_runs import RIM_SHARE
from sinkbowl.running.forecast import Forecast, forecast
from sinkbowl.running.members import coarser_cases
from sinkbowl.running.runner import Progress, run

Show = Callable[[float, float], None]  # progress: done, total

MEASURE_FOR = 1.5  # processor time over which steps are timed [s]
LONGEST = 6.0  # maximum wall time of the measurement [s]
LEAST_STEPS = 20  # minimum number of timed steps

LATER_STEPS = 1.4
"""Mean cost of a step of a whole run over that of the first: water in pieces and closed-off air
need more iterations (1.2 to 1.6 in runs of the steel cup)."""


@dataclass(frozen=True)
class Estimate:
    """Expected cost of a run, or of several releases, grids, or both.

    grids : work of a run on each grid, the finest first
    seconds_per_step : mean wall time of a step on the finest grid
    processor_seconds_per_step : its processor time, nearly independent of other programs
    steps_timed : number of timed steps
    members : releases on each grid
    workers : runs side by side
    """

    grids: tuple[Forecast, ...]
    seconds_per_step: float
    processor_seconds_per_step: float
    steps_timed: int
    members: int = 1
    workers: int = 1

    @property
    def finest(self) -> Forecast:
        """Work of a run on the finest grid."""
        return self.grids[0]

    @property
    def runs(self) -> int:
        """Number of runs."""
        return self.members * len(self.grids)

    @property
    def processor_seconds(self) -> float:
        """Expected processor time of all [s]; of one run, the wall time on an idle machine."""
        return self.processor_seconds_per_step * (sum(self._to_the_rim) + self._after_it)

    @property
    def seconds(self) -> float:
        """Expected wall time at the present load, without compilation [s]."""
        busy = [0.0] * min(self.workers, self.runs)
        for steps in self._to_the_rim:
            busy[busy.index(min(busy))] += steps
        return self.seconds_per_step * (max(busy) + self._after_it)

    @property
    def _to_the_rim(self) -> list[float]:
        """Work of each run until its rim is under, in steps on the finest grid."""
        shares = [work.cell_steps / self.finest.cell_steps for work in self.grids]
        return [RIM_SHARE * self.finest.steps * share for share in shares] * self.members

    @property
    def _after_it(self) -> float:
        """Work of the one run that goes on, in steps on the finest grid."""
        return (1.0 - RIM_SHARE) * self.finest.steps


class _Stopwatch:
    """Progress callback that times steps and then stops the run."""

    def __init__(self, show: Show | None) -> None:
        self.readings: list[tuple[int, float, float]] = []
        self.show = show

    def __call__(self, now: Progress) -> None:
        self.readings.append((now.step, monotonic(), process_time()))
        steps, wall, used = self.measured()
        if self.show is not None:
            self.show(min(used, MEASURE_FOR), MEASURE_FOR)
        if (used > MEASURE_FOR or wall > LONGEST) and steps >= LEAST_STEPS:
            raise KeyboardInterrupt

    def measured(self) -> tuple[int, float, float]:
        """Steps between the first and the last reading, their wall and their processor time."""
        (step, wall, used), last = self.readings[0], self.readings[-1]
        return last[0] - step, last[1] - wall, last[2] - used


def estimate(
    case: Case, members: int = 1, grids: int = 1, workers: int = 1, show: Show | None = None
) -> Estimate:
    """Expected wall time of a run, or of several with `workers` side by side.

    show : called with the processor time measured and to be measured [s]

    Compiles the kernels if needed. Raises CaseError if the case cannot be computed on one of the
    grids, RunError if the run fails in its first steps.
    """
    cases = coarser_cases(case, grids) if grids > 1 else [case]
    works, watch = tuple(forecast(one) for one in cases), _Stopwatch(show)
    with scratch("sinkbowl-estimate-") as folder:
        run(case, folder / "timed.h5", progress=watch)
    steps, wall, used = watch.measured()
    if steps == 0:
        raise RunError("The run is too short for an estimate. Start the run itself.")
    later = LATER_STEPS / steps
    return Estimate(works, later * wall, later * used, steps, members, workers)
