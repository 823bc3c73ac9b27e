"""Viscous terms: no stress in rigid motion, momentum kept; walls that the water sticks to."""

from dataclasses import replace

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from flow_bodies import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.flow.effects.friction import Friction, make_friction
from sinkbowl.flow.effects.no_slip import IN_LAYER
from sinkbowl.flow.grid import Grid, uniform_grid
from sinkbowl.flow.kernels import Mesh
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.flow.solid import Solid, closed, place_solid
from sinkbowl.flow.state import FlowState, empty_state, make_mesh
from sinkbowl.flow.step import advance, extend_velocity
from sinkbowl.verification.tanks import DENSITY, sphere
from thick_walled_cup import thick_walled_cup

NU, DT = 1e-3, 1e-4
BLOCK = np.array([[0.0, 0.4], [0.5, 0.4], [0.5, 0.6], [0.0, 0.6]])
SPHERE = np.add(sphere(0.3), [0.0, 0.5])
WALL_NU, CELL, RISE = 1e-3, 0.05, 0.3
IN_REACH = IN_LAYER * WALL_NU / CELL


def in_water(outline: FloatArray) -> tuple[Grid, Solid, FlowState]:
    """A tank of 1 m full of water around a solid, 20 by 20 cells."""
    grid = uniform_grid(1.0, 0.0, 1.0, 20, 20)
    solid = place_solid(grid, outline)
    state = empty_state(grid)
    state.liquid[:], state.extended[:] = solid.open_cells, 1.0
    return grid, solid, state


def rub(state: FlowState, mesh: Mesh) -> float:
    """One stride of friction; the force on the bowl."""
    return make_friction(mesh, NU, DENSITY).act(state, mesh, DT).on_bowl


@pytest.mark.parametrize("outline", [BLOCK, SPHERE])
def test_water_that_moves_with_the_bowl_feels_nothing(outline):
    """From first principles: rigid motion has no strain."""
    grid, solid, state = in_water(outline)
    state.speed = 0.7
    state.u_z[:] = state.u_z_old[:] = 0.7
    assert rub(state, make_mesh(grid, solid)) == 0.0
    assert np.all(state.u_z == 0.7)
    assert np.all(state.u_r == 0.0)


def test_what_the_water_loses_the_bowl_gets():
    """Momentum of the water and of a block on grid lines together: kept to round-off. The water
    moves near the block only, so that the tank's walls take nothing."""
    grid, solid, state = in_water(BLOCK)
    random = np.random.default_rng(4)
    state.u_z_old[:16, 5:16] = random.normal(size=(16, 11))
    state.u_r_old[1:16, 5:15] = random.normal(size=(15, 10))
    state.u_z[:], state.u_r[:] = state.u_z_old, state.u_r_old
    mesh = make_mesh(grid, solid)
    friction = make_friction(mesh, NU, DENSITY)
    force = friction.act(state, mesh, DT).on_bowl
    change = friction.z.size * (state.u_z - state.u_z_old) * (solid.area_z > 0.0)
    gained = 2.0 * np.pi * DENSITY * float(change.sum())
    assert abs(force) > 0.1
    assert force * DT == pytest.approx(-gained, rel=1e-9)


def test_slivers_beside_an_oblique_wall_stay_stable_at_the_longest_step():
    """From first principles: viscosity only ever takes energy out, 300 steps of a random flow."""
    grid, solid, state = in_water(SPHERE)
    random = np.random.default_rng(4)
    state.u_z[:] = random.normal(size=state.u_z.shape)
    state.u_r[1:-1] = random.normal(size=state.u_r[1:-1].shape)
    state.u_r[:, :] *= solid.area_r > 0.0
    state.u_z[:, :] *= solid.area_z > 0.0
    mesh = make_mesh(grid, solid)
    friction = make_friction(mesh, NU, DENSITY)
    longest, most = 0.2 * 0.05**2 / 2.0 / NU, np.abs(state.u_z).max()
    for _ in range(300):
        state.u_z_old[:], state.u_r_old[:] = state.u_z, state.u_r
        friction.act(state, mesh, longest)
    assert np.abs(state.u_z[:, 1:-1]).max() < most
    assert np.abs(state.u_r).max() < most


def sticking(case: Case) -> Case:
    """The case with walls that the water sticks to."""
    return replace(case, flow=replace(case.flow, wall="no-slip"))


def steps(sim: Simulation, end: float) -> list[float]:
    """Viscous force on the bowl in each step until a time."""
    found = []
    while sim.state.time < end:
        dt = sim.time_step()
        report = advance(sim.state, sim.body(), dt, sim.ops)
        found.append(report.unseen.get("viscous_force", 0.0))
    return found


def test_flow_of_vanishing_viscosity_is_that_along_slip_walls():
    """From first principles: a billionth of water's viscosity moves the draft by less than 1e-9.
    0.1 s, before the splash makes the flow unstable to round-off."""
    case = case_of(STEEL)
    slip = replace(case, flow=replace(case.flow, wall="slip"))
    thin = replace(slip.water, viscosity=1e-9 * slip.water.viscosity)
    runs = [initialise(case) for case in (slip, sticking(replace(slip, water=thin)))]
    forces = [steps(sim, 0.1) for sim in runs]
    assert runs[1].draft == pytest.approx(runs[0].draft, rel=1e-9)
    assert not any(forces[0])
    assert 0.0 < max(forces[1]) < 1e-9


def test_water_holds_a_bowl_back_that_sinks_through_it():
    """From first principles: friction acts against the motion, upwards at first."""
    forces = steps(initialise(sticking(case_of(STEEL))), 0.05)
    assert min(forces[5:]) > 0.0


def test_no_friction_is_added_where_a_law_closes_the_hole():
    """The measured coefficient holds the hole's losses already; elsewhere walls carry shear."""
    case = thick_walled_cup("8 mm", "3 mm", 'hole = "closed"\nwall = "no-slip"')
    sim = initialise(case)
    friction, grid = sim.ops.force(Friction), sim.ops.grid
    row = int(np.argmin(np.abs(grid.z_f - 0.002)))
    edge = int(np.argmin(np.abs(grid.r_f - sim.layout.bowl.hole_radius)))
    outer = int(np.argmin(np.abs(grid.r_f - 0.050)))
    assert not friction.sheared[edge, row]
    assert friction.sheared[outer, row]


def test_no_shear_passes_a_lid_without_thickness():
    """From first principles: water that slides above a lid does not drag on what is below it."""
    grid, solid, state = in_water(np.array([[0.0, 0.4], [0.3, 0.4], [0.3, 0.6], [0.0, 0.6]]))
    lid = np.outer((grid.r_c > 0.3) & (grid.r_c < 0.7), np.isclose(grid.z_f, 0.4))
    shut = closed(grid, solid, z_faces=lid)
    above = grid.z_c > 0.4
    state.u_r[:, above] = np.where(solid.area_r[:, above] > 0.0, 1.0, 0.0)
    state.u_r_old[:] = state.u_r
    rub(state, make_mesh(grid, shut))
    under = (grid.r_f > 0.35) & (grid.r_f < 0.65)
    assert np.all(state.u_r[np.ix_(under, ~above)] == 0.0)


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


def test_along_aligned_walls_the_mean_with_the_value_outside_is_the_walls_and_across_it_stays():
    """Level top and upright side of a block, 0.2 m and 0.1 m/s past it: minus that inside. Faces on
    the wall itself: the block's own rise, and nothing along r."""
    _, state = streaming(BLOCK, 0.2, RISE + 0.1, WALL_NU)
    assert state.u_r[3:9, 11] == pytest.approx(-0.2)
    assert state.u_z[9, 9:12] == pytest.approx(RISE - 0.1)
    assert np.all(state.u_z[:9, 12] == RISE)
    assert np.all(state.u_r[10, 9:11] == 0.0)


def test_a_stream_whose_layer_is_thinner_than_a_cell_slips_but_for_what_a_layer_can_have():
    """A hundred times as fast as a first row within the layer: twice a hundredth is taken off."""
    fast = 100.0 * IN_REACH
    _, state = streaming(BLOCK, fast, RISE, WALL_NU)
    assert state.u_r[3:9, 11] == pytest.approx(0.98 * fast)


def test_behind_an_oblique_wall_the_water_has_the_walls_velocity():
    """Faces inside a sphere that lie beside cut cells: the sphere rises, and nothing along r."""
    ops, state = streaming(SPHERE, 0.0, RISE + 0.1, WALL_NU)
    i, j = ops.no_slip.z[ops.no_slip.share_z == 1.0].T
    assert len(i) > 10
    assert state.u_z[i, j] == pytest.approx(RISE)


def test_walls_slip_where_the_water_has_no_viscosity():
    """No list of faces is made, and the values are those of slip."""
    ops, state = streaming(BLOCK, 0.2, RISE + 0.1, 0.0)
    assert ops.no_slip is None
    assert state.u_r[3:9, 11] == pytest.approx(0.2)
