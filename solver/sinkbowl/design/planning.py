"""A plan of trials: the holes at which the reduced models differ most clearly, in random order.

For some drills the models' times are compared with the scatter of trials: that of releases (the
table of repeat runs, scatter/), timing and temperature of [uncertainty]. The 95 % uncertainty that
repeats do not average out (hole, mass, radius, discharge coefficient) is subtracted from the
models' difference first. Each pair of models gets the hole that needs the simplest clock, then the
fewest trials.

The mean of n trials with scatter s is compared with a predicted time by a two-sided t test of one
sample. If the bowl follows another prediction, D away, the power of the test is

    P(|T| > t_(1 - alpha/2, n - 1)),   T noncentral t, n - 1 degrees, noncentrality D sqrt(n) / s

(Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, ch. 2, from memory).

In a film of f frames per second start and end have errors uniform over 1/f; the standard deviation
    of their difference is sqrt(2 / 12) / f (from first principles).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import combinations
from statistics import NormalDist
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import LEVEL as COVERAGE
from sinkbowl.common.errors import CaseError
from sinkbowl.design.budget.propagation import combined
from sinkbowl.design.budget.repeats import LEVEL, POWER, seen
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.sizing.design_variable import hole_setting
from sinkbowl.design.sizing.drills import PER_METRE, SERIES
from sinkbowl.reduced import MODELS
from sinkbowl.scatter.interval import RELEASE, hole_ratio, repeat_runs_at
from sinkbowl.statics.capillarity import hole_gate

SCATTER_MODEL = "heave"  # model whose error budget gives the scatter of trials

SHARES = (0.12, 0.18, 0.27, 0.4, 0.55, 0.7, 0.85)
"""Candidate holes, as shares of the widest that the bowl allows."""

BY_HAND_FROM = 1.0
"""Longer of two times from which a stopwatch is good enough [s] (common practice, no source)."""

SEED = 1
DEVIATE = NormalDist().inv_cdf(0.5 * (1.0 + COVERAGE))
"""Standard deviations in a half-width at 95 %."""


@dataclass(frozen=True)
class HoleTimes:
    """A candidate hole.

    hole, ratio : diameter [m], over that of the rim
    times : of the models that have one [s]
    scatter : standard deviation from trial to trial, timing left out [s]
    by_hand : standard deviation of the timing by stopwatch [s]
    systematic : standard uncertainty that no repeat averages out [s]
    flow_half : half-width of the flow solver's interval there, by the table of repeat runs [s]
    """

    hole: float
    ratio: float
    times: dict[str, float]
    scatter: float
    by_hand: float
    systematic: float
    flow_half: float


@dataclass(frozen=True)
class Pair:
    """Two models and the hole that distinguishes them.

    models : their names
    hole : diameter [m]; if no clock distinguishes them, that of the clearest difference
    difference : of their times [s]
    shown : the difference minus the systematic part [s], at least 0
    systematic : standard uncertainty there that repeats do not average out [s]
    flow_half : half-width of the flow solver's interval there [s]
    distinction : clock and trials; None if none distinguishes the two
    """

    models: tuple[str, str]
    hole: float
    difference: float
    shown: float
    systematic: float
    flow_half: float
    distinction: Distinction | None

    @property
    def flow_can_judge(self) -> bool:
        """Whether the flow solver's own interval is narrower than the difference."""
        return self.flow_half < self.difference


@dataclass(frozen=True)
class Plan:
    """Trials that distinguish the models.

    title : of the case
    holes : candidates, from narrow to wide
    pairs : of models
    trials : diameters in the order of the trials [m]
    seed : of that order
    """

    title: str
    holes: tuple[HoleTimes, ...]
    pairs: tuple[Pair, ...]
    trials: tuple[float, ...]
    seed: int

    def as_dict(self) -> dict[str, Any]:
        """The plan as plain numbers, strings and None, SI."""
        return {
            "title": self.title,
            "seed": self.seed,
            "level": LEVEL,
            "power": POWER,
            "most_trials": MOST_TRIALS,
            "highest_frame_rate": FRAME_RATES[-1],
            "holes": [asdict(hole) for hole in self.holes],
            "pairs": [{**asdict(p), "flow_can_judge": p.flow_can_judge} for p in self.pairs],
            "trials": list(self.trials),
        }


def plan(case: Case, seed: int = SEED, progress: Callable[[int, int], None] | None = None) -> Plan:
    """Plan trials of one bowl with several holes.

    Parameters
    ----------
    case : with its uncertainties
    seed : of the order of the trials
    progress : called with the number of holes done and in total

    Raises
    ------
    CaseError : the base is gone, or two models have a time at fewer than two holes
    RunError : if a reduced model comes to no end
    """
    if case.base_gone:
        raise CaseError(
            "has no base to drill",
            file=case.path,
            key="base.kind",
            allowed="Plan trials of a bowl with a base.",
        )
    drills, found = candidate_holes(case), []
    for done, hole in enumerate(drills, start=1):
        times = times_at(case.with_hole(hole))
        if times is not None:
            found.append(times)
        if progress is not None:
            progress(done, len(drills))
    if len(found) < 2:
        raise CaseError(
            "sinks at fewer than two holes by two models: there is nothing to compare",
            file=case.path,
            allowed="Run sinkbowl check.",
        )
    pairs = [best_hole(two, found) for two in combinations(MODELS, 2)]
    known = tuple(pair for pair in pairs if pair is not None)
    return Plan(case.title, tuple(found), known, order(known, seed), seed)


def candidate_holes(case: Case) -> list[float]:
    """Preferred drills [m] nearest to SHARES of the widest hole that the bowl allows."""
    room = hole_setting(case)
    wanted = [share * room.high * PER_METRE for share in SHARES]
    nearest = {min(SERIES, key=lambda drill, w=w: abs(drill - w)) for w in wanted}  # type: ignore[misc]
    drills = sorted(drill / PER_METRE for drill in nearest)
    return [drill for drill in drills if room.low <= drill < room.high]


def times_at(case: Case) -> HoleTimes | None:
    """Times and scatter at a case's hole; None if it is plugged or does not sink."""
    if hole_gate(case).plugged:
        return None
    solved = {name: solve(case, beyond=False).sinking_time for name, solve in MODELS.items()}
    times = {name: time for name, time in solved.items() if time}
    budget = error_budget(case, SCATTER_MODEL) if len(times) > 1 else None
    if budget is None or budget.time is None:
        return None
    ratio = hole_ratio(case)
    repeats = repeat_runs_at(ratio)
    rest = [c.effect for c in budget.contributions if c.averages_out and c.name != "timing"]
    released = RELEASE * budget.time / DEVIATE
    return HoleTimes(
        hole=case.hole.diameter,
        ratio=ratio,
        times=times,
        scatter=combined(np.array([*rest, released])),
        by_hand=case.uncertainty.timing,
        systematic=budget.systematic,
        flow_half=float(np.hypot(repeats.scatter, repeats.grid)) * budget.time,
    )


def best_hole(models: tuple[str, str], holes: Sequence[HoleTimes]) -> Pair | None:
    """The hole that distinguishes two models with the simplest clock and the fewest trials.

    None if they have no hole in common.
    """
    both = [hole for hole in holes if all(model in hole.times for model in models)]
    pairs = [_pair(models, hole) for hole in both]
    return min(pairs, key=_effort, default=None)


def _pair(models: tuple[str, str], at: HoleTimes) -> Pair:
    difference = abs(at.times[models[0]] - at.times[models[1]])
    shown = max(0.0, difference - DEVIATE * at.systematic)
    longest = max(at.times[model] for model in models)
    how = distinction(shown, at.scatter, at.by_hand if longest >= BY_HAND_FROM else np.inf)
    return Pair(models, at.hole, difference, shown, at.systematic, at.flow_half, how)


def _effort(pair: Pair) -> tuple[float, float, float]:
    """Sort key: clock, trials, wider hole; without a clock, the clearest difference."""
    if pair.distinction is None:
        return (np.inf, 0.0, -pair.difference / (pair.systematic or 1e-300))
    return (float(pair.distinction.rate or 0), float(pair.distinction.trials), -pair.hole)


def order(pairs: Sequence[Pair], seed: int) -> tuple[float, ...]:
    """Diameters [m] of all trials, shuffled; a hole of two pairs has the larger number."""
    wanted: dict[float, int] = {}
    for pair in pairs:
        if pair.distinction is not None:
            wanted[pair.hole] = max(wanted.get(pair.hole, 0), pair.distinction.trials)
    listed = [hole for hole, trials in sorted(wanted.items()) for _ in range(trials)]
    return tuple(np.random.default_rng(seed).permutation(listed).tolist())


MOST_TRIALS = 10
"""Maximum number of trials of one hole, an afternoon's work (common practice, no source)."""

FEWEST_TRIALS = 3  # fewer do not show a mistake (common practice, no source)
FRAME_RATES = (30, 60, 120, 240)  # frame rates of telephone cameras [1/s]

STOPWATCH, FILM = "stopwatch", "film"


@dataclass(frozen=True)
class Distinction:
    """Clock and trials that show a difference.

    clock : STOPWATCH or FILM
    rate : frames per second of the film [1/s], None for a stopwatch
    scatter : standard deviation from trial to trial with that clock [s]
    trials : number
    """

    clock: str
    rate: int | None
    scatter: float
    trials: int


def film_error(rate: float) -> float:
    """Standard deviation [s] of a time read from a film at a frame rate [1/s]."""
    return math.sqrt(2.0 / 12.0) / rate


def trials_needed(difference: float, scatter: float) -> int | None:
    """Trials of one hole that show a difference from a prediction, at least FEWEST_TRIALS.

    Parameters
    ----------
    difference, scatter : [s], scatter >= 0

    Returns
    -------
    None if MOST_TRIALS do not show it
    """
    if difference <= 0.0:
        return None
    for trials in range(FEWEST_TRIALS, MOST_TRIALS + 1):
        if scatter == 0.0 or power_of_one(difference, scatter, trials) >= POWER:
            return trials
    return None


def power_of_one(difference: float, scatter: float, trials: int, level: float = LEVEL) -> float:
    """Power of the t test of one sample for a difference from a prediction.

    difference, scatter : true difference and standard deviation, in the same unit, > 0
    trials : at least 2
    level : two-sided significance level
    """
    return seen(difference / scatter * math.sqrt(trials), trials - 1, level)


def distinction(difference: float, scatter: float, by_hand: float) -> Distinction | None:
    """Simplest clock that shows a difference, and number of trials; None if none does.

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
            return Distinction(clock, rate, whole, trials)
    return None
