"""What several holes, or one beside the axis, mean for a bowl, in words.

The moment of a hole beside the axis is in reduced/heeled_filling.py, with the heels at which it is
held.

Each of several holes has a meniscus of its own, and all have the same head over them before the
first lets water in: the widest, whose meniscus holds least, starts first (statics/capillarity.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.shown import millimetres
from sinkbowl.reduced.heeled_filling import offset_heels
from sinkbowl.statics.capillarity import HoleGate, hole_gate
from sinkbowl.statics.stability import StabilityCurve

LAST_FREEBOARD = 0.1
"""Of the bowl's height: with less, any heel takes the rim under, and the bowl sinks as without."""

NOTEWORTHY = math.radians(0.1)  # heel [rad] below which it is called invisible


def offset_heel(case: Case, curve: StabilityCurve | None) -> float | None:
    """Largest heel [rad] with a hole beside the axis while the bowl fills, 0 for one in the middle.

    Includes the heel of the bowl by itself. None if the bowl does not fill or its rim dips. Not
    computed with less than LAST_FREEBOARD left.
    """
    if case.hole.offset == 0.0:
        return 0.0
    found = offset_heels(case)
    if curve is None or found is None:
        return None
    draft = np.interp(found.inner_level, curve.inner_level, curve.draft)
    asked = draft <= (1.0 - LAST_FREEBOARD) * case.bowl.rim_height
    if found.dips and asked[-1]:
        return None
    return float(np.max(found.heel[asked], initial=0.0))


def hole_words(
    case: Case, curve: StabilityCurve | None, holes: tuple[HoleStart, ...], heel: float | None
) -> str:
    """Remarks on several holes, or one beside the axis; empty for one in the middle.

    case, curve, holes : the bowl, its stability and its holes in order of starting
    heel : of `offset_heel` [rad]
    """
    words = (several_words(case, holes), _beside(case, curve, heel))
    return " ".join(part for part in words if part)


def _beside(case: Case, curve: StabilityCurve | None, heel: float | None) -> str:
    offset = case.hole.offset
    if offset == 0.0:
        return ""
    place = f"{1e3 * offset:.3g} mm off the axis"
    if curve is None:
        return f"The hole is {place}. The direction of the heel is not given here."
    if heel is None:
        return (
            f"WARNING: the hole is {place}. The moment of its jet takes the rim under before the "
            "bowl is full. The models' times are for an upright bowl."
        )
    if heel < NOTEWORTHY:
        return f"The hole is {place}. It heels the bowl by less than a tenth of a degree."
    anyway = ", including its own heel," if bool(np.any(curve.metacentric_height <= 0.0)) else ""
    return (
        f"WARNING: the hole is {place} and heels the bowl by up to {math.degrees(heel):.2g} deg"
        f"{anyway} while it fills. The models' times are for an upright bowl."
    )


APART = 3.0
"""Distance of centres in diameters, below which holes disturb each other (common practice, no
source)."""


@dataclass(frozen=True)
class HoleStart:
    """One of the holes of a bowl that is set down.

    diameter : [m]
    gate : whether its meniscus opens by itself, and the push that opens it
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
    """All holes of a case in order of starting."""
    gates = {diameter: hole_gate(case, diameter) for diameter in set(case.hole.each)}
    return tuple(HoleStart(diameter, gates[diameter]) for diameter in case.hole.each)


def several_words(case: Case, starts: tuple[HoleStart, ...]) -> str:
    """Remarks on several holes; empty for one."""
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
    """Which hole starts first, and which follow only when its water covers them."""
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
