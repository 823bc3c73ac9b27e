"""Measured times off by a large factor, such as a mistyped unit.

The heave model is within a third for any bowl that sinks; a time off by a factor of 30 is not a
measurement of that bowl and would spoil figures and fits.
"""

from functools import lru_cache
from pathlib import Path

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import seconds
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.reduced import heave

ODD = 30.0
"""Factor between time and model from which a time is refused."""

QUESTIONS = ((300.0, "ms typed as s?"), (ODD, "seconds typed as minutes, or two digits swapped?"))
"""Questions for times too long by a factor, or too short by it."""


@lru_cache(maxsize=64)
def model_time(case: Case) -> float | None:
    """Sinking time by the heave model [s], without meniscus; None if it does not sink."""
    return heave.solve(meniscus_aside(case)).sinking_time


def refuse_odd_time(case: Case, time: float, path: Path, row: int) -> None:
    """Refuse a time that is impossible for its bowl.

    Parameters
    ----------
    case : with the hole and mass of the trial
    time : measured [s]
    path, row : its place

    Raises
    ------
    CaseError : it differs from the heave model's by a factor of 30 or more
    """
    model = model_time(case)
    if not model:
        return
    ratio = max(time / model, model / time)
    asked = next((words for factor, words in QUESTIONS if ratio >= factor), None)
    if asked is None:
        return
    if time < model:
        asked = "s typed as ms?" if ratio >= QUESTIONS[0][0] else "minutes typed as seconds?"
    raise CaseError(
        f"is {ratio:.3g} times {'longer' if time > model else 'shorter'} than the heave model's "
        f"{seconds(model)}: {asked}",
        file=path,
        key=f"row {row}, time",
        given=f"{time:.6g} s",
        allowed="Correct the table, or the case if it is another bowl.",
    )
