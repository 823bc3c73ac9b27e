"""Closed-off air against exact solutions: Boyle's law, rest.

What stands still for long has the bath's temperature, so Boyle's law is put to the test with an
exponent of one.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.common import ATMOSPHERE, GRAVITY
from sinkbowl.flow.effects.pockets import ADIABATIC, ClosedAir, Pockets, divided_air
from sinkbowl.flow.grid import Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.solid import components, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import advance
from sinkbowl.verification.tanks import DENSITY
from verification.test_still_water import SHAPES, fastest

HEIGHT = 0.06  # of the bells [m]


def bell(
    bowl: Bowl, depth: float, level: float, exponent: float
) -> tuple[FlowOperators, FlowState]:
    """A closed bowl upside down, its rim so deep under water [m], its air down to a level above it.

    The air has the pressure of the water at that level.
    """
    top = bowl.rim_height
    outline = np.column_stack((bowl.polygon[:, 0], top - bowl.polygon[:, 1]))[::-1]
    widest = float(bowl.outer[:, 0].max())
    r_f = lay_lines([0.0, *bowl.straight_r[1:], widest, 0.12], [Spacing(2e-3, 0.0, widest)])
    lines = [-0.05, *sorted(top - z for z in bowl.straight_z), max(depth, top) + 0.02]
    z_f = lay_lines(lines, [Spacing(2e-3, -0.005, top + 0.005)])
    grid = Grid(np.unique(r_f), np.unique(z_f))
    solid = place_solid(grid, outline)
    pockets = Pockets(grid.shape, exponent=exponent)
    ops, state = make_operators(grid, solid, DENSITY, 1e-10, pockets=pockets), empty_state(grid)
    above = solid.open_cells & (grid.z_c > 0.0)
    joined_r = (solid.area_r[1:-1] > 0.0) & above[1:] & above[:-1]
    joined_z = (solid.area_z[:, 1:-1] > 0.0) & above[:, 1:] & above[:, :-1]
    bodies = components(above, joined_r, joined_z)
    under = above & (bodies == bodies[0, np.argmax(grid.z_c > 0.0)])
    fill_to(state, ops, depth, ~under)
    fill_to(state, ops, level, under)
    pressure = DENSITY * GRAVITY * (depth - level)
    weight = DENSITY * GRAVITY * (depth - grid.z_c)
    state.pressure[:] = np.where(state.water > 0.0, weight, 0.0)
    complete_state(state, ops)
    air = pockets.follow(state, ops.mesh_of(state))
    assert air.count == 1
    state.pocket_air[0] = air.volume[0] * (1.0 + pressure / ATMOSPHERE) ** (1.0 / exponent)
    return ops, state


@pytest.mark.parametrize("shape", SHAPES)
def test_a_pocket_at_rest_stays_at_rest(shape):
    """A held bell of any shape with air under it: from first principles nothing moves. The bound is
    that of still water, 1e-6 of sqrt(g H)."""
    ops, state = bell(SHAPES[shape](), 0.09, 0.0213, ADIABATIC)
    body = HeaveBody(mass=0.2, gravity=GRAVITY, held=True)
    for _ in range(100):
        advance(state, body, 1e-3, ops)
    assert fastest(state) < 1e-6 * np.sqrt(GRAVITY * HEIGHT)


def test_a_bell_floats_where_boyle_and_archimedes_say():
    """Pushed under with all its air, p V = p_a V_0 (Boyle): its floating depth is exact. Closed
    above water at atmospheric pressure, so that V_0 is all of its room; then its top stands out of
    the water and the forces of air and water carry its weight, from first principles. At rest after
    200 steps, and displaced by 1 mm it is driven back."""
    bowl = SHAPES["cup"]()
    radius, room, top = 0.048, 0.058, bowl.rim_height
    section = np.pi * radius**2
    wall = np.pi * (0.05**2 - radius**2)
    mass = 0.25

    def level_at(depth: float) -> float:
        return brentq(
            lambda z: (
                (ATMOSPHERE + DENSITY * GRAVITY * (depth - z)) * (room - z) - ATMOSPHERE * room
            ),
            0.0,
            room,
        )

    def lift(depth: float) -> float:
        return DENSITY * (section * (depth - level_at(depth)) + wall * depth)

    depth = brentq(lambda d: lift(d) - mass, 0.001, top - 0.001)
    ops, state = bell(bowl, depth, level_at(depth), 1.0)
    assert 2.0 * np.pi * state.pocket_air[0] == pytest.approx(section * room, rel=1e-9)
    body = HeaveBody(mass=mass, gravity=GRAVITY)
    for _ in range(200):
        advance(state, body, 5e-4, ops)
    assert abs(state.height) < 1e-6 * HEIGHT
    deeper = depth + 1e-3
    ops, state = bell(bowl, deeper, level_at(deeper), 1.0)
    for _ in range(20):
        advance(state, body, 5e-4, ops)
    assert state.speed > 0.0


def test_air_is_shared_out_by_room_and_none_is_lost():
    """Two pockets of which one parts, the other gives some to the open air; a third is new."""
    shared = np.array([[0.0, 3.0, 2.0, 0.0], [1.0, 0.0, 3.0, 0.0]])
    followed = divided_air(shared, np.array([10.0, 8.0]))
    assert followed == pytest.approx([6.0, 4.0 + 6.0, 0.0])
    assert followed.sum() == pytest.approx(18.0 - 2.0), "a quarter of the second is vented"


@pytest.mark.parametrize("exponent", [1.0, ADIABATIC])
def test_the_energy_of_a_pocket_is_the_work_done_on_it(exponent):
    """The integral of its pressure over its volume, by numbers."""
    start = ClosedAir(np.array([1e-5]), np.array([1e-5]), np.array([0, 1]), exponent=exponent)
    assert start.energy == 0.0
    volumes = np.linspace(1e-5, 0.8e-5, 2001)
    pressures = [
        float(ClosedAir(np.array([v]), start.air, start.number, exponent=exponent).pressure[0])
        for v in volumes
    ]
    last = ClosedAir(volumes[-1:], start.air, start.number, exponent=exponent)
    assert last.energy == pytest.approx(-np.trapezoid(pressures, volumes), rel=1e-6)
