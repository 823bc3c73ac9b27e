"""Transport of the water volume: nothing lost, nothing overfilled, uniform motion exact."""

import math

import numpy as np
import pytest

from flow_bodies import FloatArray, slanted_tank
from sinkbowl.flow.grid import Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.kernels import Mesh, extension, pressure, transport
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.solid import closed, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state, make_mesh
from sinkbowl.flow.step import Stride, carry_water, locate_surface, solve_pressure_and_heave
from sinkbowl.verification.tanks import DENSITY, full_tank

ROUND_OFF = 1e-15  # relative to all the water; a step adds and subtracts each flux once


def carry(state: FlowState, dt: float, ops: FlowOperators) -> float:
    """One step of transport; returns what came through bottom and top per radian [m^3]."""
    water_in, _ = carry_water(state, dt, ops)
    state.step += 1
    locate_surface(state, ops)
    return water_in / (2.0 * np.pi)


def splash(seed: int) -> tuple[FlowOperators, FlowState, np.random.Generator]:
    """The slanted ring in water that fills its cells at random, a third of them empty or full."""
    rng = np.random.default_rng(seed)
    grid, solid = slanted_tank()
    ops, state = make_operators(grid, solid, DENSITY), empty_state(grid)
    state.water[:] = solid.volume * np.clip(rng.normal(0.5, 0.6, grid.shape), 0.0, 1.0)
    locate_surface(state, ops)
    return ops, state, rng


def stream_flow(ops: FlowOperators, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Random velocity from a stream function: free of divergence, nothing through the tub."""
    grid, solid = ops.grid, ops.solid
    psi = rng.uniform(-1.0, 1.0, (len(grid.r_f), len(grid.z_f)))
    psi[0] = psi[-1] = psi[:, 0] = psi[:, -1] = 0.0
    u_r = np.zeros_like(solid.area_r)
    u_r[1:-1] = -np.diff(psi[1:-1], axis=1) / solid.area_r[1:-1]
    return u_r, np.diff(psi, axis=0) / solid.area_z


def courant_step(ops: FlowOperators, u_r: FloatArray, u_z: FloatArray, share: float) -> float:
    """Time step at which the fastest face sweeps `share` of a cell."""
    fastest = max(
        float((np.abs(u_r[1:]) / ops.grid.dr[:, None]).max()),
        float((np.abs(u_z[:, 1:]) / ops.grid.dz).max()),
    )
    return share / fastest


def no_flux(water):
    """Fluxes through all faces, at first none."""
    nr, nz = water.shape
    return np.zeros((nr + 1, nz)), np.zeros((nr, nz + 1))


@pytest.mark.parametrize("seed", [1, 2])
def test_water_is_conserved_in_any_velocity_field(seed):
    """From first principles; noise that is far from free of divergence, bowl and surface in it.
    What comes through bottom and top is booked; the rest must close to round-off."""
    ops, state, rng = splash(seed)
    dt = 0.2 / (1.0 / ops.grid.dr.min() + 1.0 / ops.grid.dz.min())
    before, let_in = math.fsum(state.water.ravel()), 0.0
    for _ in range(15):
        state.u_r[:] = rng.uniform(-1.0, 1.0, state.u_r.shape)
        state.u_z[:] = rng.uniform(-1.0, 1.0, state.u_z.shape)
        state.speed = rng.uniform(-1.0, 1.0)
        let_in += carry(state, dt, ops)
    lost = (math.fsum(state.water.ravel()) - before - let_in) / before
    assert abs(let_in) > 1e-3 * before
    assert abs(lost) < 15 * ROUND_OFF, f"{lost:.1e} of the water"


def test_water_is_conserved_in_a_field_free_of_divergence():
    """From first principles; closed at all sides, so that nothing comes in."""
    rng = np.random.default_rng(3)
    grid = uniform_grid(0.1, 0.0, 0.2, 20, 40)
    ops, state = make_operators(grid, place_solid(grid, None), DENSITY), empty_state(grid)
    state.water[:] = ops.solid.volume * np.clip(rng.normal(0.5, 0.6, grid.shape), 0.0, 1.0)
    locate_surface(state, ops)
    state.u_r[:], state.u_z[:] = stream_flow(ops, rng)
    dt = courant_step(ops, state.u_r, state.u_z, 0.25)
    before = math.fsum(state.water.ravel())
    let_in = math.fsum(carry(state, dt, ops) for _ in range(20))
    lost = math.fsum(state.water.ravel()) / before - 1.0
    assert let_in == 0.0
    assert abs(lost) < 20 * ROUND_OFF, f"{lost:.1e} of the water"


@pytest.mark.parametrize("seed", [1, 2])
def test_no_cell_ends_with_less_than_nothing(seed):
    """Fluxes are limited to what the donor holds, and `give_back` settles the rest."""
    ops, state, rng = splash(seed)
    state.u_r[:] = rng.uniform(-1.0, 1.0, state.u_r.shape)
    state.u_z[:] = rng.uniform(-1.0, 1.0, state.u_z.shape)
    carry(state, 0.2 / (1.0 / ops.grid.dr.min() + 1.0 / ops.grid.dz.min()), ops)
    assert state.water.min() >= -1e-14 * ops.solid.volume.max()


@pytest.mark.parametrize("courant", [2.5, -2.5])
def test_no_face_carries_more_water_than_its_donor_holds(courant):
    """Even where a face sweeps more than the cell, as thin open parts beside a wall let it."""
    mesh, water = box([[0.3, 0.6, 1.0, 0.2], [0.5, 0.1, 0.4, 1.0], [0.2, 0.7, 0.9, 0.6]])
    grid = Grid(mesh.r_f, mesh.z_f)
    ops, state = make_operators(grid, place_solid(grid, None), DENSITY), empty_state(grid)
    state.water[:] = water
    locate_surface(state, ops)
    u_r, u_z = np.full_like(mesh.area_r, courant * 0.1), np.full_like(mesh.area_z, courant * 0.1)
    along_r, along_z = np.zeros_like(mesh.area_r), np.zeros_like(mesh.area_z)
    arrays = mesh, state.water, state.normal, state.offset
    transport.flux_r(*arrays, u_r, 1.0, ops.scratch.polygons, along_r)
    transport.flux_z(*arrays, u_z, 0.0, 1.0, ops.scratch.polygons, along_z)
    back = courant < 0.0
    donors_r, donors_z = (water[1:], water[:, 1:]) if back else (water[:-1], water[:, :-1])
    assert np.all(np.abs(along_r[1:-1]) <= donors_r * (1.0 + 1e-14))
    assert np.all(np.abs(along_z[:, 1:-1]) <= donors_z * (1.0 + 1e-14))
    assert np.all(np.sign(courant) * along_z[:, 1:-1] > 0.0)


def test_full_tank_stays_full_in_a_field_free_of_divergence():
    """Weymouth & Yue 2010: the dilation of the two sweeps cancels; round-off of ten steps."""
    rng = np.random.default_rng(4)
    grid = Grid(
        lay_lines([0.0, 0.1], [Spacing(0.005, 0.02, 0.03)]),
        lay_lines([-0.1, 0.1], [Spacing(0.005, 0.0, 0.01)]),
    )
    ops, state = make_operators(grid, place_solid(grid, None), DENSITY), empty_state(grid)
    state.water[:] = ops.solid.volume
    locate_surface(state, ops)
    state.u_r[:], state.u_z[:] = stream_flow(ops, rng)
    dt = courant_step(ops, state.u_r, state.u_z, 0.2)
    for _ in range(10):
        carry(state, dt, ops)
    worst = np.abs(state.water / ops.solid.volume - 1.0).max()
    assert worst < 1e-14, f"{worst:.1e}"


def test_full_region_stays_full_around_a_moving_bowl():
    """Noise made free of divergence by the pressure solve, cut cells and heave included. What is
    left of the divergence may fill or empty a cell by dt times itself a step; the rows under the
    open top, from which air comes in, are left out."""
    rng = np.random.default_rng(5)
    ops, state = full_tank(*slanted_tank())
    mesh = ops.mesh_of(state)
    state.u_r[:] = np.where(mesh.area_r > 0.0, rng.uniform(-1.0, 1.0, state.u_r.shape), 0.0)
    state.u_z[:] = np.where(mesh.area_z > 0.0, rng.uniform(-1.0, 1.0, state.u_z.shape), 0.0)
    state.u_z[:, 0] = 0.0
    state.speed = -1.0
    solve_pressure_and_heave(state, HeaveBody(0.5, 0.0), 0.0, Stride(1e-3), ops)
    assert abs(state.speed) > 0.1
    left = np.zeros_like(state.water)
    pressure.divergence(mesh, state.u_r, state.u_z, state.speed, state.liquid, left)
    rate = extension.courant_rate(mesh, state.water, 1e-3, state.u_r, state.u_z, state.speed)
    dt, steps = 0.3 / rate, 8
    for _ in range(steps):
        carry(state, dt, ops)
    deep = mesh.volume[:, :-5] > 0.0
    off = (state.water - mesh.volume)[:, :-5][deep] / mesh.volume[:, :-5][deep]
    allowed = 2.0 * steps * dt * (np.abs(left)[:, :-5][deep] / mesh.volume[:, :-5][deep]).max()
    assert allowed < 1e-8
    assert np.abs(off).max() < allowed + 1e-13, f"{np.abs(off).max():.1e}, allowed {allowed:.1e}"


@pytest.mark.parametrize(("u_z", "speed"), [(-1.0, 0.0), (-0.3, 0.7), (0.0, 1.0)])
def test_slab_sinks_by_speed_times_time_exactly(u_z, speed):
    """A level slab on a graded grid, water moving or bowl moving or both; round-off only. 60 steps
    of a third of the smallest cell. Fractions within 1e-7 of empty or full would count as such;
    none comes so close here."""
    grid = Grid(np.linspace(0.0, 0.1, 9), lay_lines([0.0, 0.1], [Spacing(0.002, 0.04, 0.06)]))
    ops, state = make_operators(grid, place_solid(grid, None), DENSITY), empty_state(grid)
    low, high, step = 0.0511, 0.0731, 0.333 * grid.dz.min()
    state.water[:] = slab(ops, low, high)
    locate_surface(state, ops)
    state.u_z[:], state.speed = u_z, speed
    for k in range(1, 61):
        carry(state, step, ops)
        off = np.abs(state.water - slab(ops, low - k * step, high - k * step)) / ops.solid.volume
        assert off.max() < 1e-12, f"step {k}: {off.max():.1e} of a cell"


def test_column_fed_through_the_bottom_rises_by_speed_times_time_exactly():
    """Water comes through the bottom plane, and what came in is booked."""
    grid = Grid(np.linspace(0.0, 0.1, 9), lay_lines([0.0, 0.1], [Spacing(0.002, 0.04, 0.06)]))
    ops, state = make_operators(grid, place_solid(grid, None), DENSITY), empty_state(grid)
    step = 0.333 * grid.dz.min()
    state.water[:] = slab(ops, -1.0, 0.0207)
    locate_surface(state, ops)
    state.u_z[:] = 1.0
    let_in = math.fsum(carry(state, step, ops) for _ in range(60))
    off = np.abs(state.water - slab(ops, -1.0, 0.0207 + 60 * step)) / ops.solid.volume
    assert off.max() < 1e-12, f"{off.max():.1e} of a cell"
    assert let_in == pytest.approx(60 * step * 0.5 * 0.1**2, rel=1e-12)


def slab(ops: FlowOperators, low: float, high: float) -> FloatArray:
    """Water of a level slab between two heights (nr, nz)."""
    z_f = ops.grid.z_f
    inside = np.clip(np.minimum(high, z_f[1:]) - np.maximum(low, z_f[:-1]), 0.0, None)
    return ops.solid.volume * inside / ops.grid.dz


def box(fractions: list[list[float]]) -> tuple[Mesh, FloatArray]:
    """A few whole cells, one list for each ring, filled with the given fractions."""
    nr, nz = len(fractions), len(fractions[0])
    grid = uniform_grid(0.1 * nr, 0.0, 0.1 * nz, nr, nz)
    mesh = make_mesh(grid, place_solid(grid, None))
    return mesh, np.array(fractions) * mesh.volume


def test_surplus_goes_to_the_neighbour_with_most_room_and_none_is_lost():
    """The cell above holds more room than the one beside it; the surplus is what was moved."""
    mesh, water = box([[1.0, 1.3, 0.2], [1.0, 0.7, 0.0]])
    before, surplus = water.sum(), 0.3 * mesh.volume[0, 1]
    moved = transport.give_back(mesh, water, *no_flux(water), 3)
    assert water.sum() == pytest.approx(before, rel=1e-15)
    assert moved == pytest.approx(surplus, rel=1e-12)
    assert water[0, 1] == pytest.approx(mesh.volume[0, 1], rel=1e-14)
    assert (water / mesh.volume).max() <= 1.0 + 1e-14


def test_missing_water_is_taken_from_the_neighbour_with_most():
    """Below empty is impossible; the neighbour that holds most, here the outer ring, lends."""
    mesh, water = box([[0.6, -0.1, 0.0], [0.0, 0.5, 0.0]])
    before, missing = water.copy(), 0.1 * mesh.volume[0, 1]
    moved = transport.give_back(mesh, water, *no_flux(water), 3)
    expected = before.copy()
    expected[0, 1], expected[1, 1] = 0.0, before[1, 1] - missing
    assert water == pytest.approx(expected, abs=1e-18)
    assert moved == pytest.approx(missing, rel=1e-12)


def test_surplus_among_full_cells_or_behind_a_closed_face_stays_where_it_is():
    """There is no room; the pressure solve drives it out later. Two chambers that a plate parts:
    the full one keeps its surplus, the empty one its air."""
    mesh, water = box([[1.0, 1.0, 1.0], [1.0, 1.1, 1.0], [1.0, 1.0, 1.0]])
    before = water.copy()
    assert transport.give_back(mesh, water, *no_flux(water), 3) == 0.0
    assert np.array_equal(water, before)
    grid = uniform_grid(0.2, 0.0, 0.2, 2, 2)
    plate = np.zeros((2, 3), dtype=np.bool_)
    plate[:, 1] = True
    mesh = make_mesh(grid, closed(grid, place_solid(grid, None), z_faces=plate))
    water = np.array([[1.2, 0.1], [1.0, 0.1]]) * mesh.volume
    before = water.copy()
    transport.give_back(mesh, water, *no_flux(water), 3)
    assert np.array_equal(water, before)
