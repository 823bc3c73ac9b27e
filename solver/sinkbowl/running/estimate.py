"""Estimate of the wall time of a run: expected steps times the measured cost of a step.

The cost is measured on the run itself: it is started in a temporary file and stopped soon, without
compilation. The estimate is for this case on this machine at its present load.
"""

from dataclasses import dataclass
from time import monotonic, process_time

from sinkbowl.case.case import Case
from sinkbowl.common.errors import RunError
from sinkbowl.files.scratch import scratch
from sinkbowl.running.ensemble_runs import RIM_SHARE
from sinkbowl.running.forecast import Forecast, forecast
from sinkbowl.running.members import coarser_cases
from sinkbowl.running.runner import Progress, run

MEASURE_FOR = 1.5  # processor time over which steps are timed [s]
LONGEST = 6.0  # maximum wall time of the measurement [s]
LEAST_STEPS = 20  # minimum number of timed steps


@dataclass(frozen=True)
class RunEstimate:
    """Expected cost of a run.

    work : cells, steps and duration
    seconds_per_step : wall time of a step, measured
    processor_seconds_per_step : processor time of a step, nearly independent of other programs
    steps_timed : number of timed steps
    """

    work: Forecast
    seconds_per_step: float
    processor_seconds_per_step: float
    steps_timed: int

    @property
    def seconds(self) -> float:
        """Expected wall time without compilation [s]."""
        return self.work.steps * self.seconds_per_step

    @property
    def processor_seconds(self) -> float:
        """Expected processor time [s]: the wall time on an idle machine."""
        return self.work.steps * self.processor_seconds_per_step


@dataclass(frozen=True)
class EnsembleEstimate:
    """Expected cost of several releases, grids, or both.

    finest : a run on the finest grid
    grids : work of a run on each grid, the finest first
    members : releases on each
    workers : runs side by side
    """

    finest: RunEstimate
    grids: tuple[Forecast, ...]
    members: int
    workers: int

    @property
    def runs(self) -> int:
        """Number of runs."""
        return self.members * len(self.grids)

    @property
    def processor_seconds(self) -> float:
        """Expected processor time of all [s]; the cost of a step is proportional to its cells."""
        return self._to_the_rim + self._after_it

    @property
    def _to_the_rim(self) -> float:
        """Processor time of all runs until their rims are under [s]."""
        shares = [work.cell_steps / self.grids[0].cell_steps for work in self.grids]
        return RIM_SHARE * self.members * sum(shares) * self.finest.processor_seconds

    @property
    def _after_it(self) -> float:
        """Processor time of the one that goes on [s]."""
        return (1.0 - RIM_SHARE) * self.finest.processor_seconds

    @property
    def seconds(self) -> float:
        """Expected wall time at the present load [s]; at least that of one run."""
        busy = max(self.finest.seconds / self.finest.processor_seconds, 1.0)
        side_by_side = self._to_the_rim / min(self.workers, self.runs)
        longest = RIM_SHARE * self.finest.processor_seconds
        return busy * (max(side_by_side, longest) + self._after_it)


def estimate_ensemble(case: Case, members: int, grids: int, workers: int) -> EnsembleEstimate:
    """Expected wall time of several releases on several grids, with parallel runs.

    Raises CaseError if the case cannot be computed on one of the grids, RunError as `estimate`.
    """
    cases = coarser_cases(case, grids) if grids > 1 else [case]
    works = tuple(forecast(one) for one in cases)
    return EnsembleEstimate(estimate(case), works, members, workers)


class _Stopwatch:
    """Progress callback that times steps and then stops the run."""

    def __init__(self) -> None:
        self.readings: list[tuple[int, float, float]] = []

    def __call__(self, now: Progress) -> None:
        self.readings.append((now.step, monotonic(), process_time()))
        steps, wall, used = self.measured()
        if (used > MEASURE_FOR or wall > LONGEST) and steps >= LEAST_STEPS:
            raise KeyboardInterrupt

    def measured(self) -> tuple[int, float, float]:
        """Steps between the first and the last reading, their wall and their processor time."""
        (step, wall, used), last = self.readings[0], self.readings[-1]
        return last[0] - step, last[1] - wall, last[2] - used


def estimate(case: Case) -> RunEstimate:
    """Expected wall time of a run; compiles the kernels if needed.

    Raises CaseError if the case cannot be computed, RunError if the run fails in its first steps.
    """
    work, watch = forecast(case), _Stopwatch()
    with scratch("sinkbowl-estimate-") as folder:
        run(case, folder / "timed.h5", progress=watch)
    steps, wall, used = watch.measured()
    if steps == 0:
        raise RunError("The run is too short for an estimate. Start the run itself.")
    return RunEstimate(work, wall / steps, used / steps, steps)
