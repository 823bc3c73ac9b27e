"""The surface in mixed cells: its volume exact, and a level flat across cut cells."""

import numba
import numpy as np
import pytest

from flow_bodies import HORSESHOE, FloatArray, even_grid, slanted_tank
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.flow.grid import Grid, uniform_grid
from sinkbowl.flow.kernels import interface
from sinkbowl.flow.kernels.polygon import clip, moment
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.solid import Solid, closed, inside_cells, place_solid
from sinkbowl.flow.state import FlowState, empty_state
from sinkbowl.flow.step import locate_surface
from sinkbowl.verification.tanks import DENSITY


def tank(grid: Grid, solid: Solid) -> tuple[FlowOperators, FlowState]:
    return make_operators(grid, solid, DENSITY), empty_state(grid)


def mixed_cells(ops: FlowOperators, state: FlowState) -> FloatArray:
    """Indices of the cells that hold both water and air (k, 2)."""
    volume = ops.solid.volume
    fraction = np.divide(state.water, volume, out=np.zeros_like(volume), where=volume > 0.0)
    return np.argwhere((fraction > interface.TRACE) & (fraction < 1.0 - interface.TRACE))


def sphere_of_water(ops: FlowOperators, centre: float, radius: float) -> FloatArray:
    """Water of a ball on the axis, by sub-sampling each cell 16 x 16 (nr, nz)."""
    grid, at = ops.grid, (np.arange(16) + 0.5) / 16
    r = (grid.r_f[:-1, None] + at * grid.dr[:, None])[:, None, :, None]
    z = (grid.z_f[:-1, None] + at * grid.dz[:, None])[None, :, None, :]
    wet = r**2 + (z - centre) ** 2 < radius**2
    return np.asarray((wet * r).sum(axis=(2, 3)) / r.sum(axis=(2, 3)) / 16 * ops.solid.volume)


def test_plane_of_every_mixed_cell_holds_exactly_its_water():
    """Random filling around a slanted ring; the root finder's 1e-14 of a cell, cut or not."""
    rng = np.random.default_rng(1)
    ops, state = tank(*slanted_tank())
    state.water[:] = ops.solid.volume * np.clip(rng.normal(0.5, 0.6, state.water.shape), 0.0, 1.0)
    locate_surface(state, ops)
    mixed = mixed_cells(ops, state)
    rect, cell, wet = (np.empty((16, 2)) for _ in range(3))
    mesh = ops.mesh_of(state)
    cut = 0
    for i, j in mixed:
        n = interface.open_polygon(mesh.r_f, mesh.z_f, mesh.plane, i, j, rect, cell)
        n_r, n_z = state.normal[i, j]
        assert np.hypot(n_r, n_z) == pytest.approx(1.0, abs=1e-14)
        below = clip(cell, n, n_r, n_z, state.offset[i, j], wet)
        assert moment(wet, below) == pytest.approx(state.water[i, j], abs=1e-13 * mesh.whole[i, j])
        cut += mesh.cut[i, j]
    assert cut > 20


@numba.njit
def wet_share(mesh, normal, offset, i, j, r0, r1, z0, z1, work):
    """A part of kernels, for Python."""
    return interface.wet_share(mesh, normal, offset, i, j, r0, r1, z0, z1, work)


def test_wet_shares_of_two_halves_of_a_cell_add_up_to_its_water():
    """From first principles: what a face sweeps and what stays behind are parts of one cell."""
    rng = np.random.default_rng(2)
    ops, state = tank(*slanted_tank())
    mesh, work = ops.mesh_of(state), ops.scratch.polygons
    state.water[:] = mesh.volume * np.clip(rng.normal(0.5, 0.6, state.water.shape), 0.0, 1.0)
    locate_surface(state, ops)
    for i, j in mixed_cells(ops, state):
        if mesh.cut[i, j]:
            continue
        r0, r1, z0, z1 = mesh.r_f[i], mesh.r_f[i + 1], mesh.z_f[j], mesh.z_f[j + 1]
        middle = rng.uniform(r0, r1)
        wet = [
            0.5 * (b * b - a * a) * (z1 - z0)
            * wet_share(mesh, state.normal, state.offset, i, j, a, b, z0, z1, work)
            for a, b in ((r0, middle), (middle, r1))
        ]  # fmt: skip
        assert sum(wet) == pytest.approx(state.water[i, j], abs=1e-13 * mesh.whole[i, j])


@pytest.mark.parametrize("cells", [24, 48])
def test_normal_of_a_ball_of_water_points_away_from_its_centre(cells):
    """Youngs' normals have a fixed error of some degrees on a circle; 10 degrees at most. Bound
    from Youngs 1982's weights on a plane at any angle (common practice, no source)."""
    grid = uniform_grid(0.1, -0.1, 0.1, cells, 2 * cells)
    ops, state = tank(grid, place_solid(grid, None))
    state.water[:] = sphere_of_water(ops, 0.004, 0.06)
    locate_surface(state, ops)
    for i, j in mixed_cells(ops, state):
        out = np.array([grid.r_c[i], grid.z_c[j] - 0.004])
        cosine = state.normal[i, j] @ out / np.hypot(*out)
        assert cosine > np.cos(np.radians(10.0)), f"{np.degrees(np.arccos(cosine)):.1f} degrees"


def test_gently_sloping_plane_is_found_again():
    """Water under z = z0 + m r: Youngs' weights are exact where it stays in one row of the block.
    From first principles: three columns of one row then differ by m dr / dz each. The ring's mean
    radius is r + dr^2 / (12 r), which spoils the slope by m (dr / r)^2 / 6 at most."""
    grid, m, z0 = uniform_grid(0.1, -0.05, 0.05, 40, 40), 0.07, 0.0002
    ops, state = tank(grid, place_solid(grid, None))
    mesh = ops.mesh_of(state)
    mean_radius = np.diff(grid.r_f**3) / 3.0 / (grid.r_c * grid.dr)
    height = z0 + m * mean_radius[:, None] - mesh.z_f[None, :-1]
    state.water[:] = np.clip(height / mesh.dz, 0.0, 1.0) * mesh.volume
    locate_surface(state, ops)
    edges = z0 + m * np.column_stack((grid.r_f[:-3], grid.r_f[3:]))
    seen = 0
    for i, j in mixed_cells(ops, state):
        low, high = edges[min(max(i - 1, 0), len(edges) - 1)]
        if i < 4 or i > 37 or low < grid.z_f[j] or high > grid.z_f[j + 1]:
            continue
        seen += 1
        slope = -state.normal[i, j, 0] / state.normal[i, j, 1]
        bound = (grid.dr[i] / grid.r_c[i]) ** 2 / 6.0
        assert slope == pytest.approx(m, rel=bound)
        found = state.offset[i, j] / state.normal[i, j, 1] + slope * grid.r_c[i]
        assert found == pytest.approx(z0 + m * grid.r_c[i], abs=bound * grid.dr[i])
    assert seen > 5


def level_error(ops: FlowOperators, state: FlowState, level: float, cells: FloatArray) -> float:
    """Greatest difference of extended volume fractions from the level's share of their row."""
    share = np.clip((level - ops.grid.z_f[:-1]) / ops.grid.dz, 0.0, 1.0)
    return float(np.abs(np.where(cells, state.extended - share, 0.0)).max())


@pytest.mark.parametrize("part", [0.2, 0.45, 0.7, 0.9, 1.1])
@pytest.mark.parametrize("name", shipped_cases())
def test_flat_level_gives_equal_extended_fractions_in_its_row(name, part):
    """A level is a level, cut cells or not: still water has one surface height. Inside and outside,
    after four passes. Round-off of the plane's root finder over the thinnest open part (2 % of a
    cell) is 1e-14 / 0.02; the bound leaves a hundredfold."""
    case = load_case(shipped_cases()[name])
    layout = lay_out(case)
    solid = place_solid(layout.grid, layout.bowl.polygon)
    ops, state = tank(layout.grid, solid)
    level = part * case.bowl.rim_height
    fill_to(state, ops, level, solid.open_cells)
    complete_state(state, ops)
    for _ in range(3):
        locate_surface(state, ops)
    error = level_error(ops, state, level, solid.open_cells)
    assert error < 1e-10, f"{name} at {part} of its height: {error:.1e}"


@pytest.mark.parametrize("name", ["beech-dish-bare", "brass-cap", "lily-bowl"])
def test_level_outside_is_not_disturbed_by_a_dry_inside(name):
    """The wall parts the two sides: air within two cells of the outer water must not show."""
    case = load_case(shipped_cases()[name])
    layout = lay_out(case)
    solid = place_solid(layout.grid, layout.bowl.polygon)
    ops, state = tank(layout.grid, solid)
    shut = closed(layout.grid, solid, z_faces=layout.hole.lid(layout.grid))
    outside = ~inside_cells(layout.grid, shut, case.bowl.rim_height)
    level = 0.62 * case.bowl.rim_height
    fill_to(state, ops, level, outside)
    complete_state(state, ops)
    for _ in range(3):
        locate_surface(state, ops)
    error = level_error(ops, state, level, outside & solid.open_cells)
    assert error < 1e-10, f"{error:.1e}"
    dry = np.where(outside, 0.0, state.extended)[solid.open_cells].max()
    assert dry == 0.0


@pytest.mark.parametrize("level", [-0.02, 0.001, 0.0163, 0.04])
def test_still_water_between_two_legs_has_its_volume(level):
    """Horseshoe with upright walls off the grid lines: r dr dz of what is open below the level.
    Closed slivers (below 2 % of a cell) hold none; there is none at these walls."""
    grid = even_grid(40)
    solid = place_solid(grid, HORSESHOE)
    ops, state = tank(grid, solid)
    fill_to(state, ops, level, solid.open_cells)
    rings = ((0.02, 0.041, 0.027), (0.041, 0.063, -0.012), (0.063, 0.08, 0.043))
    taken = sum(
        0.5 * (b * b - a * a) * (min(max(level, -0.031), top) + 0.031) for a, b, top in rings
    )
    exact = 0.5 * 0.1**2 * (level + 0.1) - taken
    assert state.water.sum() == pytest.approx(exact, rel=1e-12)
