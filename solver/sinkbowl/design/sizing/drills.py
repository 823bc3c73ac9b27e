"""Preferred twist drills and the width of their holes.

Preferred diameters of ISO 235 (jobber drills, Morse taper shank drills above 14 mm), from memory.
A twist drill cuts slightly oversize; its hole is assumed to be H12, from 0 to IT12 above the
nominal diameter (common practice, no source). IT12 is ISO 286-1's, from memory: 160 times i = 0.45
D^(1/3) + 0.001 D in um, D [mm] the mean of each range, rounded up.
"""

from bisect import bisect_right

STEPS = ((30, 1400, 10), (1400, 3200, 25), (3200, 5000, 50), (5000, 10000, 100))
"""First and last diameter and step of each part of the series [0.01 mm]."""

SERIES = tuple(sorted({d for low, high, step in STEPS for d in range(low, high + 1, step)}))
"""Preferred diameters [0.01 mm]."""

SERIES_WORDS = (
    "ISO 235, from memory: 0.1 mm steps up to 14 mm, 0.25 mm up to 32, 0.5 mm up to 50, "
    "1 mm up to 100"
)

TOLERANCE_WORDS = "H12, IT12 of ISO 286-1 from memory; drills cut oversize: common practice"

IT12 = (
    (3.0, 100.0),
    (6.0, 120.0),
    (10.0, 150.0),
    (18.0, 180.0),
    (30.0, 210.0),
    (50.0, 250.0),
    (80.0, 300.0),
    (120.0, 350.0),
)
"""Up to and including a diameter [mm], the width of the tolerance [um]."""

SAME = 0.1  # a hole closer to a drill than this [0.01 mm] is its hole
PER_METRE = 100_000  # units of the series in a metre


def drills_around(diameter: float) -> tuple[float, ...]:
    """The preferred diameters next below and above a wanted one [m].

    Only one if the wanted one is preferred (to a thousandth of a millimetre) or beyond an end of
    the series; none if more than a step beyond.
    """
    wanted = diameter * PER_METRE
    k = bisect_right(SERIES, wanted)
    near = SERIES[max(k - 1, 0) : k + 1]
    same = [d for d in near if abs(d - wanted) < SAME]
    if len(near) == 2:
        return tuple(d / PER_METRE for d in same or near)
    last_step = STEPS[0 if k == 0 else -1][2]
    return tuple(d / PER_METRE for d in near if abs(d - wanted) <= last_step)


def drill_not_below(diameter: float) -> float | None:
    """The narrowest preferred diameter not below a width [m]; None beyond the series."""
    wanted = diameter * PER_METRE - 1e-6
    return next((d / PER_METRE for d in SERIES if d >= wanted), None)


def oversize(diameter: float) -> float:
    """Maximum excess of a drilled hole over its drill [m].

    Raises ValueError if the diameter [m] is beyond the table.
    """
    for limit, width in IT12:
        if diameter <= limit * 1e-3 * (1.0 + 1e-12):
            return width * 1e-6
    raise ValueError(f"no tolerance is known for a hole of {diameter * 1e3:.4g} mm")
