"""The boundary layer on the base, and the cell that shows it.

The jet's water comes back over the base and runs inwards along it to the foot of the jet. Where the
laminar layer on the base separates from the wall decides how it meets the jet, and with that the
sinking time in the middle range of holes. After a way x at speed U the layer holds 99 % of its
change of speed within 5 sqrt(nu x/U) (Blasius 1908; from memory). So the cells at the base follow
from sqrt(nu x/U), with the width of the base for x and the jet's speed under the starting head for
U. Where that layer has five cells, the place at which it separates hardly depends on the cell any
more, nor on the viscosity; with slip walls, which have no layer, there is no such limit.
"""

from __future__ import annotations

import math

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY

from .effects.orifice_model import inner_radius, starting_head

CELLS_IN_LAYER = {"quick": 2.5, "good": 5.0}
"""Cells in the layer's 99 %, by the answer wanted. With five a plate's shear is 0.5 % off, with 2.5
by a half; sinking times of the two agree within 2 % (solver/MEASURED.md)."""

LAYER = 5.0
"""Thickness of the layer's 99 % in units of sqrt(nu x/U)."""

LEAST_WAY = 0.25
"""Least way along the base, as a share of the inner radius: a rim of base left has no bore."""


def layer_thickness(case: Case) -> float:
    """Thickness of the layer on the base under the water that returns to the jet [m]."""
    radius = inner_radius(case.bowl)
    way = max(radius - case.bowl.hole_radius, LEAST_WAY * radius)
    speed = math.sqrt(2.0 * GRAVITY * starting_head(case))
    return LAYER * math.sqrt(case.water.viscosity / case.water.density * way / speed)


def layer_cell(case: Case) -> float:
    """Cell that gives the layer as many cells as the case's answer asks for [m]."""
    return layer_thickness(case) / CELLS_IN_LAYER[case.flow.answer]
