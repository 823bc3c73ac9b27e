"""Velocity in the air beside the water and in the walls."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from flow_bodies import FloatArray, even_grid, graded_grid, slanted_tank
from sinkbowl.flow.grid import uniform_grid
from sinkbowl.flow.kernels import extension
from sinkbowl.flow.kernels.extension import DRY, UNKNOWN
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import FlowState, empty_state, make_mesh
from sinkbowl.flow.step import AIR_LAYERS, DROP, extend_velocity, locate_surface
from sinkbowl.verification.tanks import DENSITY, full_tank


def half_full() -> tuple[FlowOperators, FlowState]:
    """The slanted ring, water up to z = 0, a grid line."""
    ops = make_operators(*slanted_tank(), DENSITY)
    state = empty_state(ops.grid)
    fill_to(state, ops, 0.0, ops.solid.open_cells)
    complete_state(state, ops)
    return ops, state


def extend(u: FloatArray, known: NDArray[np.int8], layers: int) -> None:
    """Layers of air faces, none of them passed over."""
    front = np.zeros((u.size, 2), np.int64)
    extension.extend(u, known, u.shape[1], layers, front)


def layers_from(known: FloatArray, is_open: FloatArray) -> FloatArray:
    """Steps from face to open face to the nearest wet one, by plain flooding; -1 if closed."""
    steps = np.where(is_open, np.where(known == 0, 0, UNKNOWN), -1)
    for layer in range(1, AIR_LAYERS + 1):
        near = np.pad(steps, 1, constant_values=-1)
        beside = (near[2:, 1:-1], near[:-2, 1:-1], near[1:-1, 2:], near[1:-1, :-2])
        reached = np.any([(b >= 0) & (b < layer) for b in beside], axis=0)
        steps[(steps == UNKNOWN) & reached] = layer
    return steps


def test_wet_faces_are_the_open_ones_that_touch_liquid():
    """Definition; closed faces are -1, and the bottom plane counts as wet."""
    ops, state = half_full()
    extension.mark_wet_faces(ops.mesh_of(state), state.liquid, state.known_r, state.known_z)
    liquid = np.pad(state.liquid, 1)
    for known, area, touches in (
        (state.known_r, ops.solid.area_r, liquid[1:, 1:-1] | liquid[:-1, 1:-1]),
        (state.known_z, ops.solid.area_z, liquid[1:-1, 1:] | liquid[1:-1, :-1]),
    ):
        expected = np.where(area > 0.0, np.where(touches, 0, UNKNOWN), -1)
        assert np.array_equal(known, expected)


def test_layers_count_the_faces_from_the_water():
    """Against a plain flooding; beyond the layers the air is at rest."""
    ops, state = half_full()
    for known, area in ((state.known_r, ops.solid.area_r), (state.known_z, ops.solid.area_z)):
        expected = layers_from(known, area > 0.0)
        expected[expected == UNKNOWN] = DRY
        inner = np.s_[1:-1] if known is state.known_r else np.s_[:, 1:]
        assert np.array_equal(known[inner], expected[inner])


def test_uniform_flow_is_continued_as_uniform_flow():
    """The mean of equal values; in all layers, and nowhere beyond them."""
    ops, state = half_full()
    state.u_r[:] = np.where((state.known_r == 0) & (ops.solid.area_r > 0.0), 0.3, 7.0)
    state.u_z[:] = np.where((state.known_z == 0) & (ops.solid.area_z > 0.0), -0.2, 7.0)
    extend_velocity(state, ops)
    for u, known, value in ((state.u_r, state.known_r, 0.3), (state.u_z, state.known_z, -0.2)):
        near = (known >= 0) & (known <= AIR_LAYERS)
        assert np.sum(near & (known > 0)) > 20
        assert u[near] == pytest.approx(np.full(near.sum(), value), rel=1e-14)
        assert not u[known == DRY].any()


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9))
def test_layers_found_from_a_front_are_those_of_a_plain_flooding(seed, top):
    """Means and marks, on random closed and wet faces below `top`."""
    rng = np.random.default_rng(seed)
    u, known = rng.uniform(-1.0, 1.0, (9, 9)), np.full((9, 9), UNKNOWN, np.int8)
    known[:, :top][rng.random((9, top)) < 0.2] = 0
    known[rng.random((9, 9)) < 0.3] = -1
    expected, marks = u.copy(), known.astype(int)
    for layer in range(1, 4):
        near, values = np.pad(marks, 1, constant_values=-1), np.pad(expected, 1)
        slices = np.s_[2:, 1:-1], np.s_[:-2, 1:-1], np.s_[1:-1, 2:], np.s_[1:-1, :-2]
        give = np.array([(near[s] >= 0) & (near[s] < layer) for s in slices])
        total = np.sum(give * np.array([values[s] for s in slices]), axis=0)
        reached = (marks == UNKNOWN) & give.any(axis=0)
        expected[reached] = (total / np.maximum(give.sum(axis=0), 1))[reached]
        marks[reached] = layer
    extension.extend(u, known, top, 3, np.zeros((81, 2), np.int64))
    assert np.array_equal(known, marks)
    assert u == pytest.approx(expected, rel=1e-14, abs=1e-15)


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_continued_values_lie_within_those_of_the_water(seed):
    """A mean exceeds none of its parts."""
    rng = np.random.default_rng(seed)
    u, known = rng.uniform(-1.0, 1.0, (9, 9)), np.full((9, 9), UNKNOWN, np.int8)
    known[rng.random((9, 9)) < 0.2] = -1
    known[4, 4] = known[2, 5] = 0
    low, high = u[known == 0].min(), u[known == 0].max()
    extend(u, known, 4)
    reached = (known > 0) & (known < UNKNOWN)
    assert np.all((u[reached] >= low) & (u[reached] <= high))


def test_first_layer_is_the_mean_of_its_wet_neighbours():
    """By hand: a face between two wet ones takes their mean, one beside a single one its value."""
    u = np.array([[1.0, 9.0, 3.0, 9.0, 9.0]])
    known = np.array([[0, UNKNOWN, 0, UNKNOWN, UNKNOWN]], np.int8)
    extend(u, known, 1)
    assert np.array_equal(u, [[1.0, 2.0, 3.0, 3.0, 9.0]])
    assert np.array_equal(known, [[0, 1, 0, 1, UNKNOWN]])


def test_a_layer_does_not_pass_through_a_closed_face():
    """Closed faces neither take nor give."""
    u = np.array([[1.0, 5.0, 9.0]])
    known = np.array([[0, -1, UNKNOWN]], np.int8)
    extend(u, known, 1)
    assert np.array_equal(u, [[1.0, 5.0, 9.0]])
    assert known[0, 2] == UNKNOWN


def test_drops_far_from_the_water_keep_their_velocity_and_air_rests():
    """A cell with more than a thousandth of water keeps its faces' values; the others get zero."""
    grid = uniform_grid(0.1, 0.0, 0.2, 10, 20)
    ops, state = make_operators(grid, place_solid(grid, None), DENSITY), empty_state(grid)
    state.water[:, :4] = ops.solid.volume[:, :4]
    state.water[5, 15] = 0.3 * ops.solid.volume[5, 15]
    state.water[2, 15] = 0.1 * DROP * ops.solid.volume[2, 15]
    locate_surface(state, ops)
    state.u_r[:], state.u_z[:] = 0.0, -1.0
    state.u_r[1:-1] = 0.5
    extend_velocity(state, ops)
    assert np.array_equal(state.u_z[5, 15:17], [-1.0, -1.0])
    assert np.array_equal(state.u_r[5:7, 15], [0.5, 0.5])
    assert not state.u_z[2, 15:17].any()
    assert not state.u_z[:, 12:15].any()


def test_water_that_moves_with_the_bowl_meets_walls_that_do_so_too():
    """Rigid motion: every wall value is the bowl's velocity, whatever the wall's slope."""
    ops, state = full_tank(*slanted_tank())
    state.speed = -0.4
    state.u_r[:] = 0.0
    state.u_z[:] = np.where(ops.solid.area_z > 0.0, -0.4, 3.0)
    extend_velocity(state, ops)
    walls = ops.walls
    assert len(walls.r) > 10
    assert len(walls.z) > 10
    assert state.u_r[tuple(walls.r.T)] == pytest.approx(np.zeros(len(walls.r)), abs=1e-15)
    assert state.u_z[tuple(walls.z.T)] == pytest.approx(np.full(len(walls.z), -0.4), rel=1e-14)


def test_aligned_walls_take_the_bowls_velocity_across_and_the_waters_along():
    """Free slip on a block on grid lines: u_z = V on level walls, u_r = 0 on upright ones."""
    grid = even_grid(10)
    r, z = grid.r_f, grid.z_f
    block = np.array([[r[3], z[8]], [r[6], z[8]], [r[6], z[13]], [r[3], z[13]]])
    ops, state = full_tank(grid, place_solid(grid, block))
    state.speed = 0.25
    state.u_r[:] = np.where(ops.solid.area_r > 0.0, 0.6, 0.0)
    state.u_z[:] = np.where(ops.solid.area_z > 0.0, -0.7, 0.0)
    extend_velocity(state, ops)
    assert state.u_z[3:6, 8] == pytest.approx(np.full(3, 0.25))
    assert state.u_z[3:6, 13] == pytest.approx(np.full(3, 0.25))
    assert state.u_r[3, 8:13] == pytest.approx(np.zeros(5))
    assert state.u_r[6, 8:13] == pytest.approx(np.zeros(5))


@pytest.mark.parametrize("along", [0.8, -1.7])
def test_flow_along_a_slanted_wall_is_continued_into_it(along):
    """Free slip: what has no part across the wall passes on unchanged. On the faces that have both
    components beside them and whose normal is that of the straight part of the ring's outer side
    within a hundredth; the normal part then left is of that size."""
    ops, state = full_tank(*slanted_tank(0.0025))
    slope = np.array([0.03, 0.09]) / np.hypot(0.03, 0.09)
    across = np.array([-slope[1], slope[0]])
    state.u_r[1:-1] = along * slope[0]
    state.u_z[:] = along * slope[1]
    extend_velocity(state, ops)
    walls, mesh, seen = ops.walls, ops.mesh_of(state), 0
    for (i, j), normal in zip(walls.r, walls.normal_r, strict=True):
        both = mesh.area_z[i - 1 : i + 1, j : j + 2].any()
        if both and np.hypot(*(normal - across)) < 0.01:
            seen += 1
            assert state.u_r[i, j] == pytest.approx(along * slope[0], abs=0.01 * abs(along))
    for (i, j), normal in zip(walls.z, walls.normal_z, strict=True):
        both = mesh.area_r[i : i + 2, j - 1 : j + 1].any()
        if both and np.hypot(*(normal - across)) < 0.01:
            seen += 1
            assert state.u_z[i, j] == pytest.approx(along * slope[1], abs=0.01 * abs(along))
    assert seen > 5


def test_wall_faces_are_closed_faces_beside_open_ones_with_unit_normals():
    """Definition; a normal is missing (zero) only where no cut or open cell is near."""
    grid, solid = slanted_tank()
    ops = make_operators(grid, solid, DENSITY)
    for faces, normals, area in (
        (ops.walls.r, ops.walls.normal_r, solid.area_r),
        (ops.walls.z, ops.walls.normal_z, solid.area_z),
    ):
        assert not area[tuple(faces.T)].any()
        sizes = np.hypot(*normals.T)
        assert np.all((np.abs(sizes - 1.0) < 1e-12) | (sizes == 0.0))
        assert np.mean(sizes > 0.0) > 0.9


def test_velocity_ahead_is_the_linear_continuation_where_water_was_and_is():
    """u + ratio (u - u_old) on faces wet both times, the present value elsewhere."""
    u, old = np.array([[2.0, 2.0, 2.0]]), np.array([[1.0, 1.0, 1.0]])
    known, known_old = np.array([[0, 1, 0]], np.int8), np.array([[0, 0, 2]], np.int8)
    out = np.zeros_like(u)
    extension.extrapolate_in_time(u, old, known, known_old, 0.5, out)
    assert np.array_equal(out, [[2.5, 2.0, 2.0]])


def test_courant_rate_is_that_of_the_fastest_cell_with_water():
    """|u_r| / dr + |u_z - V| / dz by hand; air and closed faces do not count."""
    grid = graded_grid()
    mesh = make_mesh(grid, place_solid(grid, None))
    water = 0.5 * mesh.volume
    water[:, 20:] = 0.0
    u_r, u_z = np.zeros_like(mesh.area_r), np.zeros_like(mesh.area_z)
    u_r[4, 7], u_z[3, 8], u_z[3, 25] = -0.6, 0.5, 99.0
    u_r[0, 3] = 99.0
    rate = extension.courant_rate(mesh, water, 1e-3, u_r, u_z, 0.2)
    by_hand = max(
        0.6 / grid.dr[3] + 0.3 / grid.dz[7],
        0.6 / grid.dr[4] + 0.2 / grid.dz[7],
        0.3 / grid.dz[8],
        0.2 / grid.dz[:20].min(),
    )
    assert rate == pytest.approx(by_hand, rel=1e-14)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_bad_values_are_seen(bad):
    """A not-a-number, or an infinity of either sign, anywhere."""
    u = np.zeros((5, 7))
    assert not extension.has_bad_value(u)
    u[4, 6] = bad
    assert extension.has_bad_value(u)
