"""Trials as marks on a chart: one per bowl, with its mean time."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import fmean

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.charting.column import load_of
from sinkbowl_post.measured.measured import Trace, Trial, Trials, counted, counted_words
from sinkbowl_post.style import seconds


@dataclass(frozen=True)
class Mark:
    """Trials of one bowl.

    hole, load : diameter [m], mass of the ring or of the bowl [kg]
    time : mean of those that sank [s], None if none did
    failed : numbers of other outcomes
    """

    hole: float
    load: float
    time: float | None
    failed: Mapping[str, int]

    @property
    def words(self) -> str:
        """Its label."""
        if self.time is None and len(self.failed) == 1:
            return next(iter(self.failed))
        text = "" if self.time is None else seconds(self.time)
        return ", ".join(part for part in (text, counted_words(self.failed)) if part)


def trial_marks(case: Case, measured: Trials | Trace) -> tuple[Mark, ...]:
    """Marks of a table of trials; CaseError for a trace of one bowl."""
    if isinstance(measured, Trace):
        raise CaseError(
            "Is a trace of one bowl's depth, and cannot be shown on a chart",
            file=measured.path,
            allowed="Give a table of trials: hole [mm], mass [g], time [s].",
        )
    found: dict[tuple[float, float], list[Trial]] = {}
    for trial in measured.trials:
        hole = trial.hole or case.hole.diameter
        found.setdefault((hole, _load(case, trial)), []).append(trial)
    marks = []
    for (hole, load), trials in found.items():
        times = [trial.time for trial in trials if trial.time is not None]
        marks.append(Mark(hole, load, fmean(times) if times else None, counted(trials)))
    return tuple(marks)


def _load(case: Case, trial: Trial) -> float:
    """Mass of the varied part [kg]; a trial gives bowl and ballast together."""
    total = case.total_mass if trial.mass is None else trial.mass
    return total - (case.total_mass - load_of(case))
