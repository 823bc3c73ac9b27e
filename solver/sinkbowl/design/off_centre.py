"""What a hole beside the axis does to a bowl, in words.

A hole beside the axis heels the bowl: the jet that enters lifts it there, and so does the metal
that is missing there, by its weight less its buoyancy. The moment (from first principles)

    M = e (rho Q v + (rho_s - rho) g t a),

e the offset, Q and v the flow and the jet's speed under the head at that inner level, t a the
volume drilled out of the shell of density rho_s, stands against the righting moment at the heel,
rho g V GZ, with the water inside run to the lower side (statics/heel.py; for a small heel rho g V
GM tan(phi)). All of the jet's thrust is assumed to act on the bowl, although its water gives some
back where it falls down, and the bowl is assumed to have time to heel so far: an upper bound.
"""

from __future__ import annotations

import math

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.design.several_holes import HoleStart, several_words
from sinkbowl.reduced.discharge import discharge
from sinkbowl.statics.heel import heel_under
from sinkbowl.statics.stability import StabilityCurve

LEVELS = 8
"""Inner levels at which the heel is computed, besides those of the minimum metacentric
height and of the greatest heel without the offset."""

LAST_FREEBOARD = 0.1
"""Of the bowl's height: with less, any small heel takes the rim under, and it sinks as it would."""

WORTH_TELLING = math.radians(0.1)
"""Heel [rad] below which the sentence says that it cannot be seen."""


def offset_moment(case: Case, inner_level: float, draft: float) -> float:
    """Heeling moment [N m] of a hole beside the axis; positive: away from the hole.

    Parameters
    ----------
    case : the bowl
    inner_level : above the inner base [m], below it where the bowl is dry
    draft : [m]
    """
    law, rho = discharge(case), case.water.density
    flow = law.flow(max(draft - case.bowl.inner_edge_height - max(inner_level, 0.0), 0.0))
    jet, _ = law.jet(flow, 0.0, case.bowl.rim_radius)
    shell = case.bowl.mass / case.bowl.solid_volume
    missing = (shell - rho) * GRAVITY * case.bowl.base_thickness * case.hole.area
    return case.hole.offset * (rho * flow * jet + missing)


def offset_heel(case: Case, curve: StabilityCurve | None) -> float | None:
    """Largest heel [rad] with a hole beside the axis while the bowl fills, 0 for one in the middle.

    Includes the heel of the bowl by itself. None where there is no filling, or where the rim dips
    under. Not computed with less than LAST_FREEBOARD left.
    """
    if case.hole.offset == 0.0:
        return 0.0
    if curve is None:
        return None
    some = np.linspace(0, curve.inner_level.size - 1, LEVELS).astype(int)
    least = int(np.argmin(curve.metacentric_height))
    most = int(np.argmax(np.nan_to_num(curve.heel)))
    heels = [0.0]
    for k in sorted({*map(int, some), least, most}):
        level, draft = float(curve.inner_level[k]), float(curve.draft[k])
        if draft > (1.0 - LAST_FREEBOARD) * case.bowl.rim_height:
            continue
        heel = heel_under(case, level, abs(offset_moment(case, level, draft)))
        if heel is None:
            return None
        heels.append(heel)
    return max(heels)


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
            "bowl is full. The times are for an upright bowl."
        )
    if heel < WORTH_TELLING:
        return f"The hole is {place}. It heels the bowl by less than a tenth of a degree."
    anyway = ", including its own heel," if bool(np.any(curve.metacentric_height <= 0.0)) else ""
    return (
        f"WARNING: the hole is {place} and heels the bowl by up to {math.degrees(heel):.2g} deg"
        f"{anyway} while it fills. The times are for an upright bowl."
    )
