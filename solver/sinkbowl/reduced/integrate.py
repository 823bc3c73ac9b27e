"""Integration of a sinking in legs, each until one of its stops.

scipy's `solve_ivp`, its steps and some points between them kept.
A leg ends where its equations change (rim under, over the rim), and within a leg the integration
begins anew where an area jumps (base wet, a step of the hull), so that no step straddles a kink.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp

from sinkbowl.common.errors import RunError
from sinkbowl.common.sinking import FloatArray, Sinking

HORIZON = 1e7
"""Time by which every leg must have come to a stop [s], 16 weeks."""

MOST_CALLS = 2_000_000
"""Evaluations of the rates after which a leg is given up."""

REACHED = 1e-12
"""A stop's function this close below zero counts as reached [m for levels and drafts]."""

Rates = Callable[[FloatArray], Sequence[float]]
Stop = Callable[[FloatArray], float]
Moment = tuple[float, FloatArray]


class Care(NamedTuple):
    """How closely a leg is followed.

    tolerance : relative, of a step
    samples : evenly spaced points kept of it, besides at most twice as many steps of the solver;
        0 keeps its ends alone
    """

    tolerance: float
    samples: int


WHOLE, QUICK = Care(1e-8, 120), Care(1e-6, 0)
"""For a sinking with its curves, and where only its time is asked for."""


class Kink(NamedTuple):
    """Value of one component of the state, rising to which the rates jump.

    component : index into the state
    value : at which they jump
    """

    component: int
    value: float


@dataclass(frozen=True, eq=False)
class Leg:
    """Part of a sinking between two stops.

    Attributes
    ----------
    t : (n,) [s]
    y : (k, n) states
    stop : name of the stop that ended it
    """

    t: FloatArray
    y: FloatArray
    stop: str

    @property
    def end(self) -> Moment:
        """Time and state at the stop."""
        return float(self.t[-1]), self.y[:, -1].copy()


def march(
    rates: Rates,
    start: Moment,
    stops: Mapping[str, Stop],
    scales: Sequence[float],
    method: str,
    kinks: Sequence[Kink] = (),
    care: Care = WHOLE,
) -> Leg:
    """Integrate until a stop's function of the state rises through zero.

    Parameters
    ----------
    rates : time derivatives of the state
    start : time [s] and state (k,)
    stops : functions of the state that are negative on the leg; one that is not so at its
        start, to round-off, ends the leg there
    scales : (k,) sizes of the state's components; they set the absolute tolerance
    method : integrator of `solve_ivp`
    kinks : where the integration has to begin anew, so that no step straddles a jump
    care : how closely it is followed

    Raises
    ------
    RunError : if the integrator gives up or no stop comes within the horizon
    """
    for name, stop in stops.items():
        if stop(start[1]) >= -REACHED:
            return Leg(np.array([start[0]]), start[1].reshape(-1, 1).copy(), name)
    ahead = [kink for kink in kinks if start[1][kink.component] < kink.value]
    events = {**stops, **{f"kink {i}": _reaches(kink) for i, kink in enumerate(ahead)}}
    first = _one_leg(rates, start, events, scales, method, care)
    if first.stop in stops:
        return first
    passed = ahead[int(first.stop.split()[1])]
    moment = first.end
    moment[1][passed.component] = passed.value
    rest = march(rates, moment, stops, scales, method, ahead, care)
    t = np.concatenate((first.t[:-1], rest.t))
    return Leg(t, np.concatenate((first.y[:, :-1], rest.y), axis=1), rest.stop)


def _one_leg(
    rates: Rates,
    start: Moment,
    events: Mapping[str, Stop],
    scales: Sequence[float],
    method: str,
    care: Care,
) -> Leg:
    """Integrate to the first of the events and keep some of the steps."""
    solution = solve_ivp(
        _counted(rates),
        (start[0], start[0] + HORIZON),
        start[1],
        method=method,
        events=_first_of(list(events.values())),
        dense_output=care.samples > 0,
        rtol=care.tolerance,
        atol=0.1 * care.tolerance * np.asarray(scales),
    )
    if solution.status != 1:
        raise RunError(
            f"The reduced model came to no end after {solution.t[-1]:.4g} s: {solution.message}"
        )
    end = solution.y[:, -1]
    fired = max(events, key=lambda name: events[name](end))
    if care.samples == 0:
        return Leg(solution.t[[0, -1]], solution.y[:, [0, -1]], fired)
    thin = max(1, len(solution.t) // care.samples)
    even = np.linspace(solution.t[0], solution.t[-1], care.samples)
    t = np.union1d(solution.t[::thin], even)
    y = solution.sol(t)
    y[:, 0], y[:, -1] = start[1], end
    return Leg(t, y, fired)


def _counted(rates: Rates) -> Callable[[float, FloatArray], Sequence[float]]:
    """Rates that give up after too many calls."""
    calls = itertools.count()

    def function(t: float, y: FloatArray) -> Sequence[float]:
        if next(calls) > MOST_CALLS:
            raise RunError(f"The reduced model makes no headway after {t:.4g} s: state {y}.")
        try:
            return rates(y)
        except ArithmeticError as error:
            raise RunError(
                f"The reduced model leaves all bounds after {t:.4g} s: state {y} ({error})."
            ) from error

    return function


def _reaches(kink: Kink) -> Stop:
    return lambda y: float(y[kink.component]) - kink.value


def _first_of(stops: Sequence[Stop]) -> Callable[[float, FloatArray], float]:
    """One event for all: all are negative on a leg, and the first to rise makes the largest 0."""

    def function(_: float, y: FloatArray) -> float:
        return max([stop(y) for stop in stops])

    function.terminal = True  # type: ignore[attr-defined]
    function.direction = 1.0  # type: ignore[attr-defined]
    return function


@dataclass(eq=False)
class Log:
    """Columns of a sinking, gathered leg by leg.

    Attributes
    ----------
    rows : t, draft, speed, inner volume, inner level, head, hole flow of each stored moment
    events : time of each event [s]
    """

    rows: list[tuple[float, ...]] = field(default_factory=list)
    events: dict[str, float] = field(default_factory=lambda: {"start": 0.0})

    def add(self, leg: Leg, observe: Callable[[FloatArray], tuple[float, ...]]) -> None:
        """Keep a leg; `observe` gives all columns but the time."""
        first = 1 if self.rows else 0
        moments = zip(leg.t[first:], leg.y.T[first:], strict=True)
        self.rows.extend((float(t), *observe(y)) for t, y in moments)

    def sinking(self, model: str, outcome: str, comes_up: bool) -> Sinking:
        """The whole as a result; a bowl that comes up again has no sinking time."""
        columns = np.array(self.rows, dtype=float).T
        t, draft, speed, inner_volume, inner_level, head, hole_flow = columns
        return Sinking(
            model=model,
            t=t,
            draft=draft,
            speed=speed,
            inner_volume=inner_volume,
            inner_level=inner_level,
            head=head,
            hole_flow=hole_flow,
            events=self.events,
            outcome=outcome,
            sinking_time=None if comes_up else self.events.get("rim_under"),
        )
