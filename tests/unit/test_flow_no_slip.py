"""What convection finds inside walls that the water sticks to; from first principles."""

import numpy as np
import pytest

from flow_bodies import FloatArray
from sinkbowl.flow.effects.no_slip import IN_LAYER
from sinkbowl.flow.grid.grid import uniform_grid
from sinkbowl.flow.grid.solid import place_solid
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.state import FlowState, empty_state
from sinkbowl.flow.step import extend_velocity
from sinkbowl.verification.tanks import DENSITY, sphere

NU, CELL, RISE = 1e-3, 0.05, 0.3
IN_REACH = IN_LAYER * NU / CELL
BLOCK = np.array([[0.0, 0.4], [0.5, 0.4], [0.5, 0.6], [0.0, 0.6]])
SPHERE = np.add(sphere(0.3), [0.0, 0.5])


def streaming(
    outline: FloatArray, u_r: float, u_z: float, nu: float
) -> tuple[FlowOperators, FlowState]:
    """A tank of 1 m, 20 by 20 cells, full of water in even motion past a solid that rises."""
    grid = uniform_grid(1.0, 0.0, 1.0, 20, 20)
    solid = place_solid(grid, outline)
    ops, state = make_operators(grid, solid, DENSITY, viscosity=nu), empty_state(grid)
    state.liquid[:], state.extended[:], state.speed = solid.open_cells, 1.0, RISE
    state.u_r[solid.area_r > 0.0], state.u_z[solid.area_z > 0.0] = u_r, u_z
    extend_velocity(state, ops)
    return ops, state


def test_along_aligned_walls_the_mean_with_the_value_outside_is_the_walls():
    """Level top and upright side of a block, 0.2 m and 0.1 m/s past it: minus that inside."""
    _, state = streaming(BLOCK, 0.2, RISE + 0.1, NU)
    assert state.u_r[3:9, 11] == pytest.approx(-0.2)
    assert state.u_z[9, 9:12] == pytest.approx(RISE - 0.1)


def test_the_velocity_across_a_wall_stays_the_walls():
    """Faces on the wall itself: the block's own rise, and nothing along r."""
    _, state = streaming(BLOCK, 0.2, RISE + 0.1, NU)
    assert np.all(state.u_z[:9, 12] == RISE)
    assert np.all(state.u_r[10, 9:11] == 0.0)


def test_a_stream_whose_layer_is_thinner_than_a_cell_slips_but_for_what_a_layer_can_have():
    """A hundred times as fast as a first row within the layer: twice a hundredth is taken off."""
    fast = 100.0 * IN_REACH
    _, state = streaming(BLOCK, fast, RISE, NU)
    assert state.u_r[3:9, 11] == pytest.approx(0.98 * fast)


def test_behind_an_oblique_wall_the_water_has_the_walls_velocity():
    """Faces inside a sphere that lie beside cut cells: the sphere rises, and nothing along r."""
    ops, state = streaming(SPHERE, 0.0, RISE + 0.1, NU)
    i, j = ops.no_slip.z[ops.no_slip.share_z == 1.0].T
    assert len(i) > 10
    assert state.u_z[i, j] == pytest.approx(RISE)


def test_walls_slip_where_the_water_has_no_viscosity():
    """No list of faces is made, and the values are those of slip."""
    ops, state = streaming(BLOCK, 0.2, RISE + 0.1, 0.0)
    assert ops.no_slip is None
    assert state.u_r[3:9, 11] == pytest.approx(0.2)
