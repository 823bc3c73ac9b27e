"""When the rim of a bowl is under: the one answer that every command prints.

The interval holds the time of *this bowl as described* with 95 %: what is not known of model,
discharge coefficient and grid. Its parts are independent and add by the root of their squares. *A
careful trial* differs besides by the tolerances of the bowl, by the clock, and from one release to
the next.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sinkbowl.common.shown import seconds_with

STALL_HALF = 0.17
"""Least half-width at 95 % of a bowl that nearly stalls before its rim, share of the time: nine
such bowls of the map were off by 1 to 16 %."""

STALL = "near stall"
"""Name of the part that brings the interval up to that."""

SENSITIVE = (
    "Sensitive: the bowl nearly stalls before its rim is under, or may do so. Small changes then "
    "change the time a lot."
)


@dataclass(frozen=True)
class Best:
    """Best time and its interval.

    Attributes
    ----------
    time : until the rim is under [s]
    parts : half-width at 95 % by each cause, share of the time
    sensitive : whether the bowl nearly stalls before its rim is under
    model : what it stands on
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
        """The parts in words, the largest first; those that nobody sees left out."""
        known = sorted(self.parts.items(), key=lambda part: -part[1])
        seen = [f"{name} {100.0 * half:.2g} %" for name, half in known if half > 5e-4]
        return ", ".join(seen) or "less than 0.05 %"

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers and strings, units in the keys."""
        return {
            "time_s": self.time,
            "interval_s": list(self.interval),
            "parts": dict(self.parts),
            "sensitive": self.sensitive,
            "model": self.model,
        }


def widened(parts: Mapping[str, float], sensitive: bool) -> dict[str, float]:
    """The parts, with one more for a bowl that nearly stalls, up to `STALL_HALF` together."""
    missing = STALL_HALF**2 - sum(half**2 for half in parts.values())
    if not sensitive or missing <= 0.0:
        return dict(parts)
    return {**parts, STALL: math.sqrt(missing)}
