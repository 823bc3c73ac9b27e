"""Which of several holes starts first, and what several holes mean, in words.

Each hole has a meniscus of its own, and all have the same head over them before the first lets
water in: the widest, whose meniscus holds least, starts first (statics/capillarity.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sinkbowl.case.case import Case
from sinkbowl.common.shown import millimetres
from sinkbowl.statics.capillarity import HoleGate, hole_gate

APART = 3.0
"""Diameters between centres, closer than which holes disturb each other (common practice, no
source)."""


@dataclass(frozen=True)
class HoleStart:
    """One of the holes of a bowl that is set down.

    Attributes
    ----------
    diameter : [m]
    gate : whether its meniscus lets water in, and what opens it where it does not
    """

    diameter: float
    gate: HoleGate

    def as_dict(self) -> dict[str, Any]:
        """As plain numbers, units in the keys."""
        shut = self.gate.plugged
        return {
            "diameter_m": self.diameter,
            "breakthrough_head_m": self.gate.breakthrough_head,
            "starts": not shut,
            "push_impulse_N_s": self.gate.push_impulse if shut else None,
        }


def hole_starts(case: Case) -> tuple[HoleStart, ...]:
    """All holes of a case, in the order in which they start."""
    gates = {diameter: hole_gate(case, diameter) for diameter in set(case.hole.each)}
    return tuple(HoleStart(diameter, gates[diameter]) for diameter in case.hole.each)


def several_words(case: Case, starts: tuple[HoleStart, ...]) -> str:
    """What several holes mean; empty for one."""
    hole = case.hole
    if hole.count == 1:
        return ""
    apart = (
        f"Holes closer than about {APART * 1e3 * hole.diameter:.3g} mm between centres (three "
        "diameters: common practice, no source) disturb each other. This is not computed."
    )
    if not hole.equal:
        return f"{hole.count} holes, of {hole.widths}: {_order(starts)} {apart}"
    return (
        f"{hole.count} equal holes of {1e3 * hole.diameter:.4g} mm: each has its own meniscus and "
        "coefficient, and all need the same head. One may start first; the others follow when "
        f"water covers them. {apart}"
    )


def _order(starts: tuple[HoleStart, ...]) -> str:
    """Which starts first, and which follow only when water from it has run over them."""
    opens = {1e3 * one.diameter: 1e3 * one.gate.breakthrough_head for one in starts}
    heads = ", ".join(f"{wide:.4g} mm at {head:.2g} mm" for wide, head in opens.items())
    there = millimetres(starts[0].gate.head, 3)
    head = f"the menisci break at different heads ({heads}; there are {there})"
    shut = sorted({1e3 * one.diameter for one in starts if one.gate.plugged}, reverse=True)
    first = f"the one of {millimetres(starts[0].diameter, 3)} starts first"
    if len(shut) == len(opens):
        return f"{head}. None starts by itself; with a push {first}."
    if not shut:
        return f"{head}. All start by themselves; {first}."
    widths = " and ".join(f"{one:.4g} mm" for one in shut)
    return (
        f"{head}. Of them {first}; {widths} stays shut until the water that comes in covers it. "
        "The times are for all holes open from the start."
    )
