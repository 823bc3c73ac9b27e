"""Several holes, and holes beside the axis: the room they need, and the one hole that replaces
them.

The bowl is axisymmetric: its section has one hole in the middle, with the area of all of them.
    Volumes, masses and flow areas are then exact. The holes fit on the base if the smallest circle
    around them does. For n equal holes it is that of their closest packing,
a ring of up to six, or one with the others around it (exact for up to nine, from memory). For
unequal ones it is the circle around the two widest side by side, or around the three widest that
touch one another (Descartes' circle theorem, from memory): exact for two and three, a lower bound
for more, whose positions the user must draw.
"""

from __future__ import annotations

import math

from sinkbowl.case.blank import HAIR, Blank
from sinkbowl.case.parts import Finish
from sinkbowl.common.errors import InputRefused

RING = 6
"""Up to so many holes pack closest as a ring; with more, one is in the middle."""


def packing(finish: Finish) -> float:
    """Diameter of the smallest circle around all holes, over that of the widest."""
    count = finish.count
    if count == 1:
        return 1.0
    if finish.equal:
        return 1.0 + 1.0 / math.sin(math.pi / (count if count <= RING else count - 1))
    widest, second, third = (*finish.ratios, 0.0)[:3]
    return max(around_three(widest, second, third), finish.together)


def around_three(a: float, b: float, c: float) -> float:
    """Size of the smallest circle around circles of sizes a >= b >= c that do not overlap."""
    gap = a * b * (a + b) / (a**2 + a * b + b**2)
    if c <= gap:
        return a + b  # the third lies beside the two, in the circle around them
    x, y, z = 1.0 / a, 1.0 / b, 1.0 / c
    return 1.0 / (2.0 * math.sqrt(x * y + y * z + z * x) - (x + y + z))


def widest_of(blank: Blank, finish: Finish) -> float:
    """Maximum diameter of the widest hole with which all fit on the base [m].

    Inside the rim if the bowl has no flat base. At or below 0 if the offset leaves no room.
    """
    inner = blank.base_radius
    radius = float(blank.section.inner[-1, 0]) if inner is None else inner
    return 2.0 * (radius - finish.offset) / packing(finish)


def check_room(diameter: float, blank: Blank, finish: Finish) -> None:
    """InputRefused if several holes, or one beside the axis, do not fit.

    `Blank` checks one in the middle.
    """
    if finish.count == 1 and finish.offset == 0.0:
        return
    widest = widest_of(blank, finish)
    if diameter <= widest + HAIR:
        return
    if widest <= 0.0:
        raise InputRefused("is beyond the base", "Give less.", "offset")
    what = "a hole" if finish.count == 1 else f"{finish.count} holes"
    widest_one = "" if finish.equal else " for the widest, with the others in proportion"
    beside = f", {finish.offset * 1e3:.4g} mm off the axis" if finish.offset else ""
    raise InputRefused(
        f"leaves no room for {what} on the inner base{beside}",
        f"Give at most {widest * 1e3:.6g} mm{widest_one}; they then touch each other or the wall.",
        "diameter",
    )
