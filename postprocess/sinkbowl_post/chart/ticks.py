"""Ticks of a chart: preferred drills along the holes, and times with a line."""

import math

from sinkbowl.design.sizing.drills import PER_METRE, SERIES

NAMED = (1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 63, 80, 100)
"""Drills with a number [mm], if there is room."""

STEPS = (10, 50, 100, 200, 500)
"""Steps for thinning the others [0.01 mm]."""

LEAST_GAP = 0.006
"""Minimum distance of two ticks, as a share of the axis."""

ROUND_TIMES = (
    *(0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30),
    *(60, 120, 300, 600, 1200, 1800, 3600, 7200, 18_000, 36_000, 86_400),
)
"""Possible times of lines [s]."""

MOST_LINES = 11
"""Maximum number of lines of equal time."""


def drill_ticks(low: float, high: float) -> list[float]:
    """Preferred drills between two diameters [m], thinned to round steps if too dense [m]."""
    reach = math.log(high / low)
    found = []
    for drill in SERIES:
        diameter = drill / PER_METRE
        if not low <= diameter <= high:
            continue
        apart = (step for step in STEPS if step / drill >= LEAST_GAP * reach)
        if drill % next(apart, STEPS[-1]) == 0:
            found.append(diameter)
    return found


def named_drills(low: float, high: float) -> list[float]:
    """Drills with a number [m]."""
    return [d / 1e3 for d in NAMED if low <= d / 1e3 <= high]


def line_times(shortest: float, longest: float) -> list[float]:
    """Round times [s] within a range, every second one if there are too many."""
    found = [time for time in ROUND_TIMES if shortest < time < longest]
    while len(found) > MOST_LINES:
        found = found[::2]
    return found


def brief(time: float) -> str:
    """A round time [s] in words: '0.5 s', '2 min', '1 h'."""
    for unit, name in ((3600.0, "h"), (60.0, "min")):
        if time >= unit:
            return f"{time / unit:.3g} {name}"
    return f"{time:.3g} s"
