"""Integration of a sinking in legs, each until one of its stops.

The steps of rosenbrock.py, as long as their error allows. A leg ends where its equations change
(rim under, over the rim), with a step just so long; and within a leg the integration begins anew
where an area jumps (base wet, a step of the hull), so that no step straddles a kink.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from sinkbowl.common.errors import RunError
from sinkbowl.common.roots import root
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.rosenbrock import jacobian, step

HORIZON = 1e7
"""Time by which every leg must have come to a stop [s], 16 weeks."""

MOST_CALLS = 200_000
"""Evaluations of the rates until a leg is given up; none of a thousand odd bowls took 12,000."""

REACHED = 1e-12
"""A stop's function this close below zero counts as reached [m for levels and drafts]."""

FIRST, SAFETY, SHORTER, LONGER = 1e-3, 0.9, 0.2, 5.0
"""First step as a share of the time in which the state changes by its size; of the longest step
that the error allows, the share taken; bounds of a step over the one before."""

SHORTEST = 1e-14
"""Step over the time [s per s] at which a leg is given up."""

State = Sequence[float] | FloatArray
Rates = Callable[[State], Sequence[float]]
Stop = Callable[[State], float]
Moment = tuple[float, FloatArray]


class Care(NamedTuple):
    """How closely a leg is followed.

    tolerance : relative, of a step
    samples : evenly spaced points kept of it, besides at most twice as many steps of the solver;
        0 keeps its ends alone
    """

    tolerance: float
    samples: int


WHOLE, ALONE, QUICK = Care(1e-7, 120), Care(1e-7, 30), Care(1e-6, 30)
"""For a sinking with its curves; for its time, with the way to it roughly; for that within 1e-5."""


def care_for(quick: bool, close: bool) -> Care:
    """How a sinking is followed, `quick` and `close` as in `course.follow`."""
    if not quick:
        return WHOLE
    return ALONE if close else QUICK


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
    first = _one_leg(rates, start, events, scales, care)
    if first.stop in stops:
        return first
    passed = ahead[int(first.stop.split()[1])]
    moment = first.end
    moment[1][passed.component] = passed.value
    rest = march(rates, moment, stops, scales, ahead, care)
    t = np.concatenate((first.t[:-1], rest.t))
    return Leg(t, np.concatenate((first.y[:, :-1], rest.y), axis=1), rest.stop)


def _one_leg(
    rates: Rates,
    start: Moment,
    events: Mapping[str, Stop],
    scales: Sequence[float],
    care: Care,
) -> Leg:
    """Integrate to the first of the events and keep some of the steps."""
    way = _Way(_counted(rates), start, list(events.values()), scales, care.tolerance)
    while not way.advance():
        pass
    end = way.y[-1]
    fired = max(events, key=lambda name: events[name](end))
    t, y = np.array(way.t), np.array(way.y).T
    if care.samples == 0:
        return Leg(t[[0, -1]], y[:, [0, -1]], fired)
    thin = max(1, len(t) // care.samples)
    moments = np.union1d(t[::thin], np.linspace(t[0], t[-1], care.samples))
    return Leg(moments, _between(moments, t, y, np.array(way.slopes).T), fired)


class _Way:
    """Steps of one leg: times [s], states and their rates."""

    def __init__(
        self,
        rates: Rates,
        start: Moment,
        events: Sequence[Stop],
        scales: Sequence[float],
        tolerance: float,
    ) -> None:
        self._rates, self._events, self._scales = rates, events, scales
        self._relative = tolerance
        self._absolute = [0.1 * tolerance * float(scale) for scale in scales]
        self.t, self.y = [float(start[0])], [start[1].tolist()]
        self.slopes = [list(rates(self.y[0]))]
        quickest = max(abs(f) / size for f, size in zip(self.slopes[0], scales, strict=True))
        self._h = FIRST / max(quickest, 1.0 / HORIZON)

    def advance(self) -> bool:
        """Take the next step; whether it ended at an event."""
        y, slope = self.y[-1], self.slopes[-1]
        slopes = jacobian(self._rates, y, slope, self._scales)
        while True:
            if not SHORTEST * self.t[-1] < self._h < HORIZON:
                raise RunError(
                    f"The reduced model came to no end after {self.t[-1]:.4g} s: state {y}."
                )
            h, ended = self._h, False
            new, error = step(self._rates, y, slope, slopes, h)
            if self._first(new) >= 0.0:
                h = self._to_event(slopes, h)
                new, error = step(self._rates, y, slope, slopes, h)
                ended = True
            miss = self._miss(y, new, error)
            self._h = h * min(max(SAFETY * (miss + 1e-12) ** -0.25, SHORTER), LONGER)
            if miss <= 1.0:
                break
        self.t.append(self.t[-1] + h)
        self.y.append(new)
        self.slopes.append(list(self._rates(new)))
        return ended

    def _to_event(self, slopes: FloatArray, longest: float) -> float:
        """Length of the step that ends at the first event [s]."""
        y, slope = self.y[-1], self.slopes[-1]

        def ahead(h: float) -> float:
            return self._first(step(self._rates, y, slope, slopes, h)[0] if h > 0.0 else y)

        return root(ahead, 0.0, longest, xtol=1e-15 * self.t[-1] + 1e-12 * longest)

    def _first(self, y: State) -> float:
        """One event for all: all are negative on a leg; the first to rise makes the largest 0."""
        return max([event(y) for event in self._events])

    def _miss(self, y: Sequence[float], new: Sequence[float], error: Sequence[float]) -> float:
        """Error of a step over what is allowed; infinite where it is none."""
        total = 0.0
        for absolute, a, b, e in zip(self._absolute, y, new, error, strict=True):
            total += (e / (absolute + self._relative * max(abs(a), abs(b)))) ** 2
        return math.sqrt(total / len(y)) if math.isfinite(total) else 1e9


def _between(moments: FloatArray, t: FloatArray, y: FloatArray, slopes: FloatArray) -> FloatArray:
    """States (k, m) at moments (m,), cubic between the steps (n,)."""
    i = np.clip(np.searchsorted(t, moments, side="right") - 1, 0, max(len(t) - 2, 0))
    h = t[i + 1] - t[i]
    s = (moments - t[i]) / h
    back, rise = (1.0 - s) ** 2, s**2
    value = y[:, i] * back * (1.0 + 2.0 * s) + y[:, i + 1] * rise * (3.0 - 2.0 * s)
    return value + h * (slopes[:, i] * s * back - slopes[:, i + 1] * rise * (1.0 - s))


def _counted(rates: Rates) -> Rates:
    """Rates that give up after too many calls."""
    calls = itertools.count()

    def function(y: State) -> Sequence[float]:
        if next(calls) > MOST_CALLS:
            raise RunError(f"The reduced model makes no headway: state {y}.")
        try:
            return rates(y)
        except ArithmeticError as error:
            raise RunError(f"The reduced model leaves all bounds: state {y} ({error}).") from error

    return function


def _reaches(kink: Kink) -> Stop:
    return lambda y: float(y[kink.component]) - kink.value


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

    def add(self, leg: Leg, observe: Callable[[State], tuple[float, ...]]) -> None:
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
