"""The result of every model, reduced or flow.

Sign conventions: draft is the depth of the bowl's lowest outer point below the still outer
surface, speed its rate (positive downwards), inner levels are measured from the hole's inner edge,
and head is the outer minus the inner level.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.shown import seconds

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
        speeds = self._late_speeds()
        return max(float(speeds[-1]), SLOWEST) if speeds.size else 1.0

    @property
    def nearly_stalls(self) -> bool:
        """Whether the bowl nearly stalls before its rim is under."""
        return nearly_stalls(self.t, self.draft, self.speed, self.sinking_time)

    def _late_speeds(self) -> FloatArray:
        return late_speeds(self.t, self.draft, self.speed, self.sinking_time)

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
