"""The result of every model, reduced or flow: the course of a sinking, and the best estimate.

Sign conventions: draft is the depth of the bowl's lowest outer point below the still outer
surface, speed its rate (positive downwards), inner levels are measured from the hole's inner edge,
and head is the outer minus the inner level.

The best estimate of the time until the rim is under, and its 95 % interval, which every command
prints, are for *this bowl as described*: the interval includes the uncertainty of model, discharge
coefficient and grid. Its parts are independent; their squares add. *A careful trial* also has the
tolerances of the bowl, the error of the clock and the scatter of releases.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.shown import seconds, seconds_with

FloatArray = NDArray[np.float64]

RIM_UNDER, RIM_DIPS = "the rim goes under", "dips its rim"
"""Phrases of an outcome after which `Sinking.words` inserts the time."""

SLOWEST = 0.05  # lower limit of speed at the rim over mean speed

STALLED = 0.15
"""Minimum speed over mean speed in the last part of the way below which a bowl nearly stalls."""

LATE = 0.3
"""Share of the time from which this is checked: before it the bowl heaves after its release."""

EVENT_WORDS = {
    "start": "released",
    "gate_open": "the meniscus in the hole breaks",
    "air_closed_off": "air is closed off in the bowl",
    "tips": "it is unstable at every heel",
    "rim_dips": "a point of the rim dips: water comes over the rim",
    "rim_under": "rim below the outer surface",
    "over_rim": "first water over the rim",
    "full": "bowl full",
    "on_floor": "stands on the floor of the tub",
    "half_sunk": "at rest, part-sunk",
}
"""Description of each event, in their possible order."""


@dataclass(frozen=True, eq=False)
class Sinking:
    """The sinking of a bowl by one model.

    Attributes
    ----------
    model : its name
    t : (n,) time since release [s]
    draft : (n,) depth of the lowest outer point below the still outer surface [m]
    speed : (n,) rate of the draft, positive downwards [m/s]
    inner_volume : (n,) water in the bowl, including that in the hole [m^3]
    inner_level : (n,) mean inner level above the hole's inner edge [m]
    head : (n,) draft - height of the hole's inner edge - inner level [m]
    hole_flow : (n,) flow through the hole into the bowl [m^3/s]
    events : time of each event [s], named as in `EVENT_WORDS`
    outcome : what the bowl did, in plain words without times; `words` has them
    sinking_time : time from release until the rim passes under the undisturbed surface [s], None if
        it does not or, lighter than water, rises again
    """

    model: str
    t: FloatArray
    draft: FloatArray
    speed: FloatArray
    inner_volume: FloatArray
    inner_level: FloatArray
    head: FloatArray
    hole_flow: FloatArray
    events: Mapping[str, float]
    outcome: str
    sinking_time: float | None

    @property
    def rim_speed(self) -> float:
        """Speed at the rim over the mean speed, at least `SLOWEST`; 1 if the rim stays dry."""
        speeds = late_speeds(self.t, self.draft, self.speed, self.sinking_time)
        return max(float(speeds[-1]), SLOWEST) if speeds.size else 1.0

    @property
    def nearly_stalls(self) -> bool:
        """Whether the bowl nearly stalls before its rim is under."""
        return nearly_stalls(self.t, self.draft, self.speed, self.sinking_time)

    @property
    def words(self) -> str:
        """The outcome with the times of its events."""
        rim, tips, floods = (self.events.get(name) for name in ("rim_under", "tips", "rim_dips"))
        text = self.outcome
        if rim:
            for what in (RIM_UNDER, RIM_DIPS):
                text = text.replace(what, f"{what} after {seconds(rim)}")
        if tips is None:
            if floods is None:
                return text
            return f"{text}; heeled, the lowest point of its rim after {seconds(floods)}"
        when = f"after {seconds(tips)}" if tips > 0.0 else "at once"
        if floods is not None:
            when += (
                f", water comes over the rim after {seconds(floods)}"
                if floods > tips
                else (" and water comes over the rim")
            )
        return f"tips {when}; kept upright: {text}"

    def __str__(self) -> str:
        """Outcome and events, one per line."""
        known = [name for name in EVENT_WORDS if name in self.events]
        other = [name for name in self.events if name not in EVENT_WORDS]
        lines = [f"{self.model}: {self.words}"]
        lines += [
            f"  {self.events[name]:10.4g} s  {EVENT_WORDS.get(name, name)}"
            for name in known + other
        ]
        if len(self.t) and np.max(np.abs(self.speed)) > 0.0:
            k = int(np.argmax(np.abs(self.speed)))
            lines.append(f"  fastest {self.speed[k]:.4g} m/s, after {self.t[k]:.4g} s")
        return "\n".join(lines)


def first_at(t: FloatArray, values: FloatArray, level: float) -> float:
    """Time [s] at which values (n,) at times t (n,) first reach a level that they do reach.

    Linear between two moments.
    """
    k = int(np.argmax(values >= level))
    near = slice(max(k - 1, 0), k + 1)
    return float(np.interp(level, values[near], t[near]))


def late_speeds(
    t: FloatArray, draft: FloatArray, speed: FloatArray, rim: float | None
) -> FloatArray:
    """Speeds over the mean speed in the last part of the way to the rim (60,).

    Empty (0,) if the rim stays dry or goes under at once.

    t, draft, speed : (n,) of a history
    rim : when the rim goes under [s], or None
    """
    if not rim or len(t) < 3:
        return np.empty(0)
    way = np.interp(rim, t, draft) - draft[0]
    if not way > 0.0:
        return np.empty(0)
    return np.asarray(np.interp(np.linspace(LATE, 1.0, 60) * rim, t, speed) * rim / way)


def nearly_stalls(t: FloatArray, draft: FloatArray, speed: FloatArray, rim: float | None) -> bool:
    """Whether a bowl nearly stalls before its rim is under; arguments as `late_speeds`."""
    return bool(np.any(late_speeds(t, draft, speed, rim) < STALLED))


def closed_air_words(closed: tuple[float, float] | None, longest: float | None = None) -> str:
    """'42 mL of air closed off at 0.211 s'; empty if none was.

    closed : time [s] at which air was first closed off, and its volume [m^3]
    longest : time [s] shown with it
    """
    if closed is None:
        return ""
    time, volume = closed
    return f"{volume * 1e6:.3g} mL of air closed off at {seconds(time, longest)}"


STALL_HALF = 0.17
"""Minimum half-width at 95 % for a bowl that nearly stalls before its rim is under, as a share of
the time: the errors of nine such bowls of the map are 1 to 16 %."""

STALL = "near stall"  # name of the part that widens the interval

SENSITIVE = (
    "Sensitive: the bowl nearly stalls before its rim is under, or may do so. Small changes then "
    "change the time a lot."
)


@dataclass(frozen=True)
class Best:
    """Best time and its interval.

    time : until the rim is under [s]
    parts : half-width at 95 % by each cause, share of the time
    sensitive : whether the bowl nearly stalls before its rim is under
    model : its name
    """

    time: float
    parts: Mapping[str, float]
    sensitive: bool
    model: str

    @property
    def share(self) -> float:
        """Half-width of the interval, share of the time."""
        return math.hypot(*self.parts.values())

    @property
    def half(self) -> float:
        """Half-width of the interval [s]."""
        return self.share * self.time

    @property
    def interval(self) -> tuple[float, float]:
        """Its ends [s]; a time is never below 0."""
        return max(0.0, self.time - self.half), self.time + self.half

    def __str__(self) -> str:
        """'2.052 ± 0.031 s', as everywhere."""
        return seconds_with(self.time, self.half)

    @property
    def made_of(self) -> str:
        """The parts in words, the largest first; negligible ones left out."""
        known = sorted(self.parts.items(), key=lambda part: -part[1])
        seen = [f"{name} {100.0 * half:.2g} %" for name, half in known if half > 5e-4]
        return ", ".join(seen) or "less than 0.05 %"

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers and strings, units in the keys."""
        return {
            "time_s": self.time,
            "interval_s": list(self.interval),
            "parts": {name: float(half) for name, half in self.parts.items()},
            "sensitive": self.sensitive,
            "model": self.model,
        }


def widened(parts: Mapping[str, float], least: float) -> dict[str, float]:
    """The parts, with one for a near stall that widens the interval to at least this half."""
    missing = least**2 - sum(half**2 for half in parts.values())
    if missing <= 0.0:
        return dict(parts)
    return {**parts, STALL: math.sqrt(missing)}
