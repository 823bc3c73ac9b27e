"""A case with slightly changed inputs.

`Case.with_hole` drills another hole and changes the weight; here an input was measured wrongly: the
weighed mass stays when hole or radius change, and another radius stretches the whole section.
"""

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sinkbowl.bowl.shapes import Outlines
from sinkbowl.case.blank import Blank
from sinkbowl.case.case import Case
from sinkbowl.case.parts import usual_tub
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.corrected.correction import with_coefficient
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.start import starts_anyway
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.hydrostatics import start_head

CASE_INPUTS = (
    "hole",
    "mass",
    "radius",
    "temperature",
    "contact_angle",
    "discharge_coefficient",
)
"""Inputs of every case, named as in [uncertainty]."""

WATER_INPUTS = ("salinity", "surface_tension")  # inputs varied only if they are uncertain


WETTED = math.radians(0.5)
"""Contact angle [rad] at which the meniscus holds less than 1 % of its maximum."""


def inputs_of(case: Case) -> tuple[str, ...]:
    """Inputs of a case that are varied."""
    return CASE_INPUTS + tuple(
        name for name in WATER_INPUTS if getattr(case.uncertainty, name) > 0.0
    )


def varied(case: Case, changes: Mapping[str, float]) -> Case:
    """The case with some inputs changed.

    case : as stated
    changes : name and change, in SI units; other inputs stay. The discharge coefficient is changed
        as a constant: that of the case, or the estimate at the starting head

    Raises CaseError if the hole does not fit into the bowl.
    """
    changed = {**dict.fromkeys(CASE_INPUTS + WATER_INPUTS, 0.0), **changes}
    other = replace(
        case,
        bowl=case.bowl.weighing(case.bowl.mass + changed["mass"]),
        water=case.water.changed(
            changed["temperature"], changed["salinity"], changed["surface_tension"]
        ),
        contact_angle=case.contact_angle + changed["contact_angle"],
    )
    if changed["hole"] or changed["radius"]:
        other = _reshaped(other, changed["hole"], changed["radius"])
    coefficient = changed["discharge_coefficient"]
    if coefficient == 0.0:
        return other
    return with_coefficient(other, starting_coefficient(other) + coefficient)


def held_by_meniscus(case: Case) -> bool:
    """Whether the meniscus keeps the bowl from starting, even with its push."""
    gate = hole_gate(case)
    return gate.plugged and not starts_anyway(case, gate)


def meniscus_aside(case: Case) -> Case:
    """The case without the meniscus in its hole if that would hold the bowl.

    No reduced model's sinking time depends on the contact angle otherwise.
    """
    if not held_by_meniscus(case):
        return case
    return replace(case, contact_angle=min(case.contact_angle, WETTED))


def starting_coefficient(case: Case) -> float:
    """Discharge coefficient Q / (a sqrt(2 g head)) of the dry bowl at its draft.

    At the rim's height over the hole if the bowl has no head.
    """
    law, head = discharge(case), start_head(case)
    if head is None or head <= 0.0:
        head = case.bowl.rim_height - case.bowl.inner_edge_height
    return law.flow(head) / (law.area * float(np.sqrt(2.0 * GRAVITY * head)))


def _reshaped(case: Case, hole: float, radius: float) -> Case:
    """The case with another hole and radius and the same mass; a missing base stays missing."""
    rim, flow = case.bowl.rim_radius, case.flow
    blank = _stretched(case.blank, 1.0 + radius / rim)
    if flow.tub_radius == usual_tub(rim):  # the default tub follows the rim
        flow = replace(flow, tub_radius=usual_tub(rim + radius))
    blank = replace(blank, mass=case.bowl.mass, density=None)
    diameter = case.hole.diameter + hole
    if case.base_gone and blank.base_radius is not None:
        diameter = 2.0 * blank.base_radius
    try:
        bowl = blank.drilled(diameter * case.hole.together)
    except InputRefused as error:
        key = "hole" if hole else "radius"
        raise CaseError(
            f"does not fit: a hole of {diameter * 1e3:.4g} mm {error}",
            file=str(case.path or case.title),
            key=f"uncertainty.{key}",
            given=f"{getattr(case.uncertainty, key) * 1e3:.4g} mm",
            allowed="Give a smaller uncertainty, or 0 mm to leave it out.",
        ) from None
    return replace(case, bowl=bowl, blank=blank, flow=flow)


def _stretched(blank: Blank, factor: float) -> Blank:
    """Blank with the radii of its outlines multiplied by a factor."""
    sideways = np.array([factor, 1.0])
    base = None if blank.base_radius is None else blank.base_radius * factor
    section = Outlines(blank.section.outer * sideways, blank.section.inner * sideways)
    return replace(blank, section=section, base_radius=base)
