"""Several equal holes, and holes beside the axis: how wide they may be, and what stands for them.

The bowl is axisymmetric: its section has one hole in the middle, with the area of all of them. That
keeps volumes, masses and flow areas what they are. Whether the holes themselves have room on the
base is asked of their closest packing: n circles in a circle, a ring of up to six, or one with the
others around it (exact for up to nine, from memory).
"""

from __future__ import annotations

import math

from sinkbowl.case.blank import HAIR, Blank
from sinkbowl.case.parts import Finish
from sinkbowl.common.errors import InputRefused

RING = 6
"""Holes that lie closest as a ring; of more, one lies in the middle."""


def equivalent_diameter(diameter: float, count: int) -> float:
    """Diameter of one hole with the area of `count` equal ones [m]."""
    return diameter * math.sqrt(count)


def packing(count: int) -> float:
    """Diameter of the circle around `count` equal circles that touch, over theirs."""
    if count == 1:
        return 1.0
    return 1.0 + 1.0 / math.sin(math.pi / (count if count <= RING else count - 1))


def widest_of(blank: Blank, finish: Finish) -> float:
    """Widest diameter with which the holes have room on the base [m].

    Inside the rim where the bowl has no flat base. At or below 0 where the offset leaves none.
    """
    inner = blank.base_radius
    radius = float(blank.section.inner[-1, 0]) if inner is None else inner
    return 2.0 * (radius - finish.offset) / packing(finish.count)


def check_room(diameter: float, blank: Blank, finish: Finish) -> None:
    """InputRefused where several holes, or one beside the axis, have no room.

    One in the middle is the blank's own question.
    """
    if finish.count == 1 and finish.offset == 0.0:
        return
    widest = widest_of(blank, finish)
    if diameter <= widest + HAIR:
        return
    if widest <= 0.0:
        raise InputRefused("lies beyond the base", "Give less.", "offset")
    what = "a hole" if finish.count == 1 else f"{finish.count} holes"
    beside = f", {finish.offset * 1e3:.4g} mm beside the axis" if finish.offset else ""
    raise InputRefused(
        f"leaves no room for {what} on the inner base{beside}",
        f"Give at most {widest * 1e3:.6g} mm; then they touch each other or the wall.",
        "diameter",
    )
