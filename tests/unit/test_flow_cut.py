"""Solid parts of cells and faces, cut exactly out of a revolved outline."""

import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flow_bodies import HORSESHOE, SLANTED_RING, FloatArray, even_grid, pappus
from sinkbowl.flow.grid import Grid, cell_volumes
from sinkbowl.flow.kernels import polygon
from sinkbowl.flow.kernels.polygon import solid_faces, solid_moments
from sinkbowl.verification.tanks import sphere

CONE = np.array([[0.0, -0.07], [0.06, 0.05], [0.0, 0.05]])
"""Cone with its apex down: R = 60 mm, H = 120 mm."""

SIDE_STEP = 1e-9  # distance to both sides of a grid line at which faces are looked at [m]


def cell_parts(grid: Grid, outline: FloatArray) -> FloatArray:
    """Solid volume of each cell per radian."""
    out = np.zeros(grid.shape)
    work = np.empty((3, 4 * len(outline) + 16, 2))
    solid_moments(outline, grid.r_f, grid.z_f, 0, grid.shape[0], 0, grid.shape[1], work, out)
    return out


@numba.njit
def crossings(outline, axis, position, out):
    """A part of kernels, for Python."""
    return polygon.crossings(outline, axis, position, out)


def face_parts(grid: Grid, outline: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solid area of the faces along r and along z, per radian."""
    nr, nz = grid.shape
    along_r, along_z = np.zeros((nr + 1, nz)), np.zeros((nr, nz + 1))
    marks = np.empty(len(outline))
    solid_faces(outline, grid.r_f, SIDE_STEP, grid.z_f, 0, marks, along_r)
    solid_faces(outline, grid.z_f, SIDE_STEP, grid.r_f, 1, marks, along_z)
    return along_r, along_z


def places(outline: FloatArray, axis: int, position: float) -> FloatArray:
    out = np.empty(len(outline) + 4)
    return out[: crossings(outline, axis, position, out)]


def star(radii: list[float]) -> FloatArray:
    """Star-shaped outline about (0.05, 0), counter-clockwise and mostly not convex."""
    angle = 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    return np.column_stack((0.05 + radii * np.cos(angle), radii * np.sin(angle)))


@pytest.mark.parametrize("cells", [7, 16, 33])
def test_slices_of_a_sphere_are_spherical_segments(cells):
    """Segment between two heights: pi (a^2 z - z^3 / 3); Archimedes, On the Sphere. The outline's
    chords lose half the square of a step's angle at most, of the disc in which the slice lies; 1e-5
    at 720 steps."""
    grid, a = even_grid(cells), 0.06
    z = np.clip(grid.z_f, -a, a)
    exact = 0.5 * np.diff(a * a * z - z**3 / 3.0)
    found = cell_parts(grid, sphere(a)).sum(axis=0)
    lost = np.abs(found - exact) / (0.5 * a * a * grid.dz)
    assert np.all(lost < 0.5 * (np.pi / 720) ** 2), f"{lost.max():.1e}"


@pytest.mark.parametrize("cells", [7, 16, 33])
def test_slices_of_a_cone_are_frusta(cells):
    """pi h (R1^2 + R1 R2 + R2^2) / 3 over 2 pi; the outline is exact, so round-off only."""
    grid = even_grid(cells)
    radius = np.interp(grid.z_f, [-0.07, 0.05], [0.0, 0.06], right=0.0)
    z = np.clip(grid.z_f, -0.07, 0.05)
    radius[grid.z_f > 0.05] = 0.06
    exact = np.diff(z) / 6.0 * (radius[1:] ** 2 + radius[1:] * radius[:-1] + radius[:-1] ** 2)
    found = cell_parts(grid, CONE).sum(axis=0)
    assert found == pytest.approx(exact, abs=1e-15 * 0.06**2)


def test_cell_across_a_slanted_edge_holds_a_known_triangle():
    """One cell, one 45 degree edge: half the square, whose centroid lies at a third."""
    grid = Grid(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0]))
    triangle = np.array([[1.0, 0.0], [2.0, 0.0], [1.0, 1.0]])
    found = cell_parts(grid, triangle)
    assert found[1, 0] == pytest.approx(0.5 * (1.0 + 1.0 / 3.0), rel=1e-15)
    assert found[0, 0] == 0.0


@pytest.mark.parametrize("outline", [HORSESHOE, SLANTED_RING], ids=["horseshoe", "slanted ring"])
@pytest.mark.parametrize("cells", [6, 21, 40])
def test_cells_of_an_outline_that_is_not_convex_add_up(outline, cells):
    """Pappus over triangles, exact; and no cell is more than full."""
    grid = even_grid(cells)
    found, whole = cell_parts(grid, outline), cell_volumes(grid)
    assert found.sum() == pytest.approx(pappus(outline), rel=1e-13)
    assert np.all(found >= -1e-15 * whole.max())
    assert np.all(found <= whole * (1.0 + 1e-12))


def test_gap_between_two_legs_stays_open():
    """Rectangles of the horseshoe, cell by cell; a cell that holds both legs counts both."""
    grid = even_grid(40)
    found = cell_parts(grid, HORSESHOE)
    gap = (grid.r_f[:-1] >= 0.041) & (grid.r_f[1:] <= 0.063)
    assert not found[gap][:, grid.z_f[:-1] >= -0.012].any()
    wide = Grid(np.array([0.0, 0.1]), np.array([-0.05, -0.012, 0.027, 0.05]))
    legs = 0.5 * np.array(
        [
            (0.08**2 - 0.02**2) * 0.019,
            (0.041**2 - 0.02**2 + 0.08**2 - 0.063**2) * 0.039,
            (0.08**2 - 0.063**2) * 0.016,
        ]
    )
    assert cell_parts(wide, HORSESHOE)[0] == pytest.approx(legs, rel=1e-13)


@settings(deadline=None)
@given(st.lists(st.floats(0.005, 0.045), min_size=3, max_size=12), st.integers(3, 24))
def test_cells_of_any_star_add_up_to_its_volume(radii, cells):
    """Pappus; random outlines whose corners lie anywhere in the cells."""
    grid, outline = even_grid(cells), star(radii)
    found = cell_parts(grid, outline)
    assert found.sum() == pytest.approx(pappus(outline), rel=1e-11)
    assert found.min() >= -1e-17


@settings(deadline=None)
@given(st.lists(st.floats(0.005, 0.045), min_size=3, max_size=12), st.integers(3, 24))
def test_a_line_meets_a_closed_outline_an_even_number_of_times(radii, cells):
    """Topology of closed curves; the places ascend."""
    outline = star(radii)
    for axis, lines in ((0, even_grid(cells).r_f), (1, even_grid(cells).z_f)):
        for position in lines:
            marks = places(outline, axis, position)
            assert len(marks) % 2 == 0
            assert np.all(np.diff(marks) >= 0.0)


def test_a_line_meets_a_sphere_at_the_chord():
    """r = sqrt(a^2 - z^2); between two points of the outline the chord lies within 1e-5 a."""
    for z in (-0.05, 0.0, 0.0123):
        marks = places(sphere(0.06), 1, z)
        assert marks == pytest.approx([0.0, np.sqrt(0.06**2 - z * z)], abs=1e-5 * 0.06)


@pytest.mark.parametrize("cells", [7, 16])
def test_faces_of_a_cone_are_annuli_and_cylinders(cells):
    """Level faces: r dr up to R(z); upright faces: radius times the length above the slope. Faces
    are looked at 1e-9 m beside the line, which shifts an edge of slope 2 by 2e-9 m."""
    grid = even_grid(cells)
    along_r, along_z = face_parts(grid, CONE)
    inside = (grid.z_f > -0.07) & (grid.z_f < 0.05)
    radius = np.where(inside, 0.5 * (grid.z_f + 0.07), 0.0)
    edge = np.minimum(grid.r_f[:, None], radius)
    assert along_z == pytest.approx(0.5 * np.diff(edge**2, axis=0), abs=0.06 * 2.0 * SIDE_STEP)
    low = np.clip(grid.z_f, np.minimum(2.0 * grid.r_f - 0.07, 0.05)[:, None], 0.05)
    exact = grid.r_f[:, None] * np.diff(low, axis=1)
    assert along_r == pytest.approx(exact, abs=0.06 * 2.0 * SIDE_STEP)


def test_faces_on_both_sides_of_an_aligned_wall_are_closed():
    """A block whose sides are grid lines closes just the faces on and in it."""
    lines = np.linspace(0.0, 0.1, 11)
    grid = Grid(lines, lines)
    block = np.array([[0.02, 0.03], [0.05, 0.03], [0.05, 0.07], [0.02, 0.07]])
    along_r, along_z = face_parts(grid, block)
    full_r, full_z = np.outer(lines, grid.dz), np.outer(grid.r_c * grid.dr, np.ones(11))
    shut_r, shut_z = np.zeros_like(full_r), np.zeros_like(full_z)
    shut_r[2:6, 3:7] = full_r[2:6, 3:7]
    shut_z[2:5, 3:8] = full_z[2:5, 3:8]
    assert along_r == pytest.approx(shut_r, abs=1e-16)
    assert along_z == pytest.approx(shut_z, abs=1e-16)
