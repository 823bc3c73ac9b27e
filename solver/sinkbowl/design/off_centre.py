"""What a hole beside the axis does to a bowl, in words.

Its moment is in reduced/heeled_filling.py, with the heels at which it is held.
"""

from __future__ import annotations

import math

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.design.several_holes import HoleStart, several_words
from sinkbowl.reduced.heeled_filling import offset_heels
from sinkbowl.statics.stability import StabilityCurve

LAST_FREEBOARD = 0.1
"""Of the bowl's height: with less, any small heel takes the rim under, and it sinks as it would."""

WORTH_TELLING = math.radians(0.1)
"""Heel [rad] below which the sentence says that it cannot be seen."""


def offset_heel(case: Case, curve: StabilityCurve | None) -> float | None:
    """Largest heel [rad] with a hole beside the axis while the bowl fills, 0 for one in the middle.

    Includes the heel of the bowl by itself. None where there is no filling, or where the rim dips
    under. Not computed with less than LAST_FREEBOARD left.
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
    """What several holes, or one beside the axis, mean; empty for one in the middle.

    Parameters
    ----------
    case, curve, holes : the bowl, its stability and its holes in the order in which they start
    heel : as `offset_heel` gives it [rad]
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
    if heel < WORTH_TELLING:
        return f"The hole is {place}. It heels the bowl by less than a tenth of a degree."
    anyway = ", including its own heel," if bool(np.any(curve.metacentric_height <= 0.0)) else ""
    return (
        f"WARNING: the hole is {place} and heels the bowl by up to {math.degrees(heel):.2g} deg"
        f"{anyway} while it fills. The models' times are for an upright bowl."
    )
