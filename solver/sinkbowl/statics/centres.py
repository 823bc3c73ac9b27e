"""The points that decide whether an empty bowl floats upright: weight, buoyancy, metacentre.

At the dry draft, hole plugged: G the centre of shell and ballast ring, B that of the displaced
water, M the metacentre, a height I / V above B (I the second moment of the outer waterplane, V the
displaced volume; textbook naval hydrostatics). M above G: it stays upright.
"""

from __future__ import annotations

from dataclasses import dataclass

from sinkbowl.case.case import Case
from sinkbowl.statics.hydrostatics import displaced_volume, dry_draft
from sinkbowl.statics.stability import metacentric_height


@dataclass(frozen=True)
class Centres:
    """Heights above the bowl's lowest outer point [m], of the empty bowl at its dry draft.

    Attributes
    ----------
    draft : [m]
    weight : centre of shell and ballast, G
    buoyancy : centre of the displaced water, B
    metacentre : M; G and the metacentric height above it
    """

    draft: float
    weight: float
    buoyancy: float
    metacentre: float


def centres(case: Case) -> Centres | None:
    """Centres of the empty bowl; None where it goes under at once."""
    draft = dry_draft(case)
    if draft is None:
        return None
    weight = centre_of_weight(case)
    moment = float(case.bowl.outer_hull.moment_below(draft))
    moment += case.outer_ballast.moment_below(draft)
    upright = metacentric_height(case, -case.bowl.base_thickness)
    return Centres(draft, weight, moment / displaced_volume(case, draft), weight + upright)


def centre_of_weight(case: Case) -> float:
    """Height of the centre of shell and ballast ring above the lowest outer point [m]."""
    moment = case.bowl.mass * case.bowl.centroid_z
    if case.ballast is not None:
        moment += case.ballast.mass_moment
    return moment / case.total_mass
