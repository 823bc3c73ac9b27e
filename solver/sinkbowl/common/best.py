"""Best estimate of the time until the rim is under, with its interval, as every command prints it.

The 95 % interval is for *this bowl as described*: it includes the uncertainty of model, discharge
coefficient and grid. Its parts are independent; their squares add. *A careful trial* also has the
tolerances of the bowl, the error of the clock and the scatter of releases.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sinkbowl.common.shown import seconds_with

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
