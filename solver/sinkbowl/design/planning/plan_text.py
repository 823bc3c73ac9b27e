"""How many trials, by which clock, tell two times apart.

A mean of n trials with the scatter s is held against a predicted time by a two-sided t test of one
sample. If the bowl really follows another prediction, D away, the test sees it with the power

    P(|T| > t_(1 - alpha/2, n - 1)),   T noncentral t, n - 1 degrees, noncentrality D sqrt(n) / s

(Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, ch. 2, from memory).

A film of f frames a second tells the start and the end each to within a frame: two errors that are
uniform over 1/f, with the standard deviation sqrt(2 / 12) / f together (from first principles).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sinkbowl.design.budget.repeats import LEVEL, POWER, seen

MOST_TRIALS = 10
"""Trials of one hole that a team repeats in an afternoon (common practice, no source)."""

FEWEST_TRIALS = 3
"""Fewer show no slip of the hand (common practice, no source)."""

FRAME_RATES = (30, 60, 120, 240)
"""Frames a second that a telephone's camera can take [1/s]."""

STOPWATCH, FILM = "stopwatch", "film"


@dataclass(frozen=True)
class Telling:
    """How a difference is shown.

    Attributes
    ----------
    clock : STOPWATCH or FILM
    rate : frames a second of the film [1/s], None for a stopwatch
    scatter : standard deviation from trial to trial with that clock [s]
    trials : that show it
    """

    clock: str
    rate: int | None
    scatter: float
    trials: int


def film_error(rate: float) -> float:
    """Standard deviation [s] of a time read off a film of so many frames a second."""
    return math.sqrt(2.0 / 12.0) / rate


def trials_needed(difference: float, scatter: float) -> int | None:
    """Trials of one hole that show a difference to a prediction, FEWEST_TRIALS at least.

    Parameters
    ----------
    difference, scatter : [s], scatter >= 0

    Returns
    -------
    None where MOST_TRIALS do not show it
    """
    if difference <= 0.0:
        return None
    for trials in range(FEWEST_TRIALS, MOST_TRIALS + 1):
        if scatter == 0.0 or power_of_one(difference, scatter, trials) >= POWER:
            return trials
    return None


def power_of_one(difference: float, scatter: float, trials: int, level: float = LEVEL) -> float:
    """Chance that the t test of one sample sees a difference to a prediction.

    Parameters
    ----------
    difference, scatter : true difference and standard deviation, in the same unit, > 0
    trials : at least 2
    level : two-sided significance level
    """
    return seen(difference / scatter * math.sqrt(trials), trials - 1, level)


def telling(difference: float, scatter: float, by_hand: float) -> Telling | None:
    """The simplest clock that shows a difference, and how many trials; None where none does.

    Parameters
    ----------
    difference : to be shown [s]
    scatter : standard deviation from trial to trial, timing left out [s]
    by_hand : that of a time taken by stopwatch [s]
    """
    clocks: list[tuple[str, int | None, float]] = [(STOPWATCH, None, by_hand)]
    clocks += [(FILM, rate, film_error(rate)) for rate in FRAME_RATES]
    for clock, rate, error in clocks:
        whole = math.hypot(scatter, error)
        trials = trials_needed(difference, whole)
        if trials is not None:
            return Telling(clock, rate, whole, trials)
    return None
