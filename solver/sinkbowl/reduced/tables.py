"""A case as numbers and tables for the kernels."""

import math
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.kernels.bowl import Bowl
from sinkbowl.reduced.resistance import drag_factor, wave_damping
from sinkbowl.reduced.start import beginning
from sinkbowl.statics.added_mass import inner_end_correction
from sinkbowl.statics.capillarity import rim_lag
from sinkbowl.statics.vessel import Vessel, vessel_of

DRAFTS, LEVELS = 801, 401  # rows of the tables of the outer water and of the inner end correction
LEAST_HEAD = 0.01  # minimum starting head as the scale of the motion, over the rim's height

UNMODIFIED = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])


@dataclass(frozen=True, eq=False)
class Tables:
    """A case, its vessel, and their tables for the kernels."""

    case: Case
    vessel: Vessel
    bowl: Bowl


@lru_cache(maxsize=4)  # the models of a case share them
def tabulate(case: Case) -> Tables:
    """Numbers and tables of a case."""
    v, rho, begin = vessel_of(case), case.water.density, beginning(case)
    outside = v.outside(np.linspace(0.0, v.rim, DRAFTS))
    seas = (
        *outside.inertia,
        outside.area,
        outside.radius,
        drag_factor(outside, v.hole_area, rho),
        wave_damping(outside, rho),
    )
    base_area = v.water_area(v.inner_edge)
    z = np.linspace(v.inner_edge, v.rim, LEVELS)
    over = np.maximum(z - v.inner_edge, 1e-30)
    section = (v.inner.volume(z) - v.plug_volume) / over
    section[0] = base_area
    widths = Counter(case.hole.each)
    edge = sum(number * math.pi * width for width, number in widths.items())
    bowl = Bowl(
        mass=v.mass,
        density=rho,
        rim=v.rim,
        inner_edge=v.inner_edge,
        outer_edge=v.outer_edge,
        give_way=v.rim + rim_lag(v.rim_radius, case.water, case.contact_angle),
        crest=2.0 * math.pi * v.rim_radius,
        hole_area=v.hole_area,
        hole_radius=v.hole_radius,
        hole_length=case.bowl.base_thickness,
        edge_radius=2.0 * v.hole_area / edge,
        ring_mass=ring_added_mass(v, begin.draft),
        plug=v.plug_volume,
        hull=v.hull_volume,
        capacity=v.water(v.rim),
        base_area=base_area,
        head=max(begin.head, LEAST_HEAD * v.rim),
        outer=v.outer,
        inner=v.inner,
        sea=np.column_stack(np.broadcast_arrays(*seas)),
        ends=inner_end_correction(v.hole_radius, np.sqrt(section / np.pi)).reshape(-1, 1),
        laws=discharge(case).rows,
        residuals=UNMODIFIED,
    )
    return Tables(case, v, bowl)


def ring_added_mass(vessel: Vessel, draft: float) -> float:
    """Added mass [kg] of the bottom around the hole, wetted on one side."""
    m = vessel.outside(draft).inertia
    return float(m.bowl - m.cross**2 / m.hole)
