"""The bowl on the grid: volumes, faces, heave areas and pieces of wall."""

import numpy as np
import pytest

from flow_bodies import HORSESHOE, SLANTED_RING, FloatArray, even_grid, graded_grid, pappus
from sinkbowl.bowl import shapes
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.flow.grid import Grid, cell_volumes, uniform_grid
from sinkbowl.flow.kernels.interface import open_polygon
from sinkbowl.flow.kernels.polygon import moment
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.solid import LEAST_OPEN, Solid, place_solid
from sinkbowl.verification.tanks import sphere

SNAPPED = 1e-6  # share of a face that may be snapped to open or closed

CONE = np.array([[0.0, -0.07], [0.06, 0.05], [0.0, 0.05]])

BODIES = {
    "sphere": sphere(0.05),
    "cone": CONE,
    "slanted ring": SLANTED_RING,
    "horseshoe": HORSESHOE,
}


def solid_volume(grid: Grid, solid: Solid) -> float:
    """What the grid holds as solid, per radian [m^3]."""
    return float((cell_volumes(grid) - solid.volume).sum())


def sliver_room(grid: Grid, solid: Solid) -> float:
    """Most that closed slivers may have taken: LEAST_OPEN of each closed cell beside the water."""
    is_open = np.pad(solid.open_cells, 1)
    beside = is_open[2:, 1:-1] | is_open[:-2, 1:-1] | is_open[1:-1, 2:] | is_open[1:-1, :-2]
    shut = beside & ~solid.open_cells
    return LEAST_OPEN * float(cell_volumes(grid)[shut].sum())


def lift_of_pieces(grid: Grid, solid: Solid) -> FloatArray:
    """Integral of r dr over the pieces of wall that belong to each cell (nr, nz)."""
    total = np.zeros(grid.shape)
    lift = 0.5 * (solid.pieces[:, 2] ** 2 - solid.pieces[:, 0] ** 2)
    np.add.at(total, tuple(solid.piece_cell.T), lift)
    return total


@pytest.mark.parametrize("cells", [10, 16, 33])
@pytest.mark.parametrize(
    ("outline", "exact", "lost"),
    [(sphere(0.05), 2.0 / 3.0 * 0.05**3, 1e-5), (CONE, 0.06**2 * 0.12 / 6.0, 1e-13)],
    ids=["sphere", "cone"],
)
def test_body_on_the_grid_has_its_volume_but_for_closed_slivers(cells, outline, exact, lost):
    """4/3 pi a^3, whose outline's chords lose 1e-5, and pi R^2 H / 3, whose outline is exact;
    slivers below 2 % of a cell are added."""
    grid = even_grid(cells)
    solid = place_solid(grid, outline)
    excess = solid_volume(grid, solid) - exact
    print(f"excess {excess / exact:.2e}")
    assert -lost * exact < excess <= sliver_room(grid, solid)


@pytest.mark.parametrize("cells", [25, 50])
def test_shell_of_a_cap_on_the_grid_has_its_volume_but_for_closed_slivers(cells):
    """Two spherical caps pi h^2 (3 S - h) / 3; the outline's own error is below 1e-5."""
    bowl = Bowl.from_outlines(*shapes.cap(0.05, 0.04, 0.004), 0.1)
    grid = uniform_grid(0.08, -0.02, 0.06, cells, cells)
    solid = place_solid(grid, bowl.polygon)
    s = (0.05**2 + 0.04**2) / 0.08
    outer, inner = 0.04**2 * (3 * s - 0.04), 0.036**2 * (3 * (s - 0.004) - 0.036)
    exact = (outer - inner) / 6.0
    excess = solid_volume(grid, solid) - exact
    assert -1e-5 * exact < excess <= sliver_room(grid, solid)


def test_aligned_cup_on_the_grid_is_exact():
    """Walls on grid lines: two cylinders and a hole, no cut cell at all."""
    case = load_case(shipped_cases()["steel-cup"])
    layout = lay_out(case)
    solid = place_solid(layout.grid, case.bowl.polygon)
    assert not solid.cut_cells.any()
    found = 2.0 * np.pi * solid_volume(layout.grid, solid)
    assert found == pytest.approx(case.bowl.solid_volume, rel=1e-12)


def test_level_cut_through_a_cone_leaves_the_ring_around_it_open():
    """Open area of a whole level: pi (R_tub^2 - R(z)^2), where no sliver of the level is closed.
    Faces are looked at 1e-7 of a cell beside the line, and SNAPPED of a face may be snapped."""
    grid = even_grid(16)
    solid = place_solid(grid, CONE)
    kept = (cell_volumes(grid) - solid.volume).sum(axis=0)
    radius = np.clip(0.5 * (grid.z_f + 0.07), 0.0, None)
    exact_rows = np.diff(radius**3) / 3.0  # integral of R^2 / 2 over z, dz = 2 dR
    levels = [
        j
        for j in range(1, grid.shape[1])
        if grid.z_f[j - 1] > -0.06
        and grid.z_f[j + 1] < 0.05
        and np.all(np.abs(kept[j - 1 : j + 1] - exact_rows[j - 1 : j + 1]) < 1e-13)
    ]
    assert len(levels) >= 3
    exact = 0.5 * (0.1**2 - radius[levels] ** 2)
    widest = (grid.r_c * grid.dr).max()
    assert solid.area_z.sum(axis=0)[levels] == pytest.approx(exact, abs=SNAPPED * widest)


@pytest.mark.parametrize("name", BODIES)
@pytest.mark.parametrize("cells", [10, 16, 33])
def test_heave_areas_of_a_closed_body_sum_to_zero(name, cells):
    """The projections of a closed surface cancel; a constant pressure does not lift it."""
    grid = even_grid(cells)
    heave = place_solid(grid, BODIES[name]).heave_area
    assert abs(heave.sum()) < 1e-13 * np.abs(heave).sum()
    assert np.abs(heave).sum() > 0.0


@pytest.mark.parametrize("name", shipped_cases())
def test_pieces_of_wall_project_onto_the_heave_area_of_their_cell(name):
    """The open part of a cell is closed by its faces and its wall, so that sum(r dr) = h. What
    differs is what was snapped at two faces of the cell."""
    layout = lay_out(load_case(shipped_cases()[name]))
    grid = layout.grid
    solid = place_solid(grid, layout.bowl.polygon)
    apart = np.abs(lift_of_pieces(grid, solid) - solid.heave_area) / (grid.r_c * grid.dr)[:, None]
    assert apart.max() < 2.0 * SNAPPED, f"{apart.max():.1e} of a cell's area"


@pytest.mark.parametrize("name", shipped_cases())
def test_every_piece_of_wall_lies_with_an_open_cell(name):
    """Nothing but water or air can press on a wall; and no piece is lost."""
    layout = lay_out(load_case(shipped_cases()[name]))
    solid = place_solid(layout.grid, layout.bowl.polygon)
    for cells in (solid.piece_cell, solid.row_cell):
        assert solid.open_cells[tuple(cells.T)].all()
    length = np.hypot(*(np.roll(layout.bowl.polygon, -1, axis=0) - layout.bowl.polygon).T).sum()
    found = np.hypot(*(solid.pieces[:, 2:] - solid.pieces[:, :2]).T).sum()
    assert found == pytest.approx(length, rel=1e-12)


@pytest.mark.parametrize("name", BODIES)
def test_still_water_lifts_the_pieces_by_the_weight_of_what_they_enclose(name):
    """Archimedes: the integral of -z r dr around the wall is the volume inside it."""
    grid = even_grid(21)
    ra, za, rb, zb = place_solid(grid, BODIES[name]).pieces.T
    lift = -np.sum((rb - ra) * (za * (2 * ra + rb) + zb * (ra + 2 * rb)) / 6.0)
    assert lift == pytest.approx(pappus(BODIES[name]), rel=1e-12)


@pytest.mark.parametrize("name", BODIES)
@pytest.mark.parametrize("cells", [10, 16, 33])
def test_slivers_are_closed_and_closed_cells_have_closed_faces(name, cells):
    """Definition of LEAST_OPEN; an open cell in turn has at least one open face."""
    grid = even_grid(cells)
    solid = place_solid(grid, BODIES[name])
    fraction = solid.volume / cell_volumes(grid)
    assert np.all((fraction == 0.0) | (fraction >= LEAST_OPEN))
    shut = ~solid.open_cells
    faces = (solid.area_r[1:], solid.area_r[:-1], solid.area_z[:, 1:], solid.area_z[:, :-1])
    for face in faces:
        assert not face[shut].any()
    assert np.all(sum(faces)[solid.open_cells] > 0.0)


@pytest.mark.parametrize("outline", [None, SLANTED_RING], ids=["no solid", "slanted ring"])
def test_axis_and_tub_wall_are_closed_and_the_ends_open(outline):
    """Nothing flows through the axis or the tub's side; bottom plane and top are open."""
    grid = graded_grid()
    solid = place_solid(grid, outline)
    assert not solid.area_r[0].any()
    assert not solid.area_r[-1].any()
    for level in (0, -1):
        assert np.array_equal(solid.area_z[:, level], grid.r_c * grid.dr)


def test_water_without_a_solid_has_whole_cells_and_no_heave_area():
    """From first principles."""
    grid = graded_grid()
    solid = place_solid(grid, None)
    assert np.array_equal(solid.volume, cell_volumes(grid))
    assert not solid.heave_area.any()
    assert not solid.cut_cells.any()
    assert len(solid.pieces) == 0


@pytest.mark.parametrize("cells", [12, 40])
def test_both_legs_of_a_horseshoe_and_the_gap_between_them_are_there(cells):
    """Rectangles by Pappus; the gap stays open down to the base wherever it is a cell wide."""
    grid = even_grid(cells)
    solid = place_solid(grid, HORSESHOE)
    excess = solid_volume(grid, solid) - pappus(HORSESHOE)
    assert -1e-13 < excess <= sliver_room(grid, solid)
    gap = (grid.r_f[:-1] > 0.041) & (grid.r_f[1:] < 0.063)
    above = grid.z_f[:-1] > -0.012
    assert gap.any()
    assert np.array_equal(solid.volume[gap][:, above], cell_volumes(grid)[gap][:, above])


@pytest.mark.parametrize("name", BODIES)
def test_open_polygon_of_a_cut_cell_has_the_volume_of_the_cell(name):
    """The half-plane is only a model, but its volume is exact (to the root finder's 1e-14)."""
    grid = even_grid(16)
    solid = place_solid(grid, BODIES[name])
    rect, poly = np.empty((16, 2)), np.empty((16, 2))
    for i, j in np.argwhere(solid.cut_cells):
        n = open_polygon(grid.r_f, grid.z_f, solid.plane, i, j, rect, poly)
        whole = cell_volumes(grid)[i, j]
        assert moment(poly, n) == pytest.approx(solid.volume[i, j], abs=1e-13 * whole)


def test_cut_cells_on_a_slanted_wall_know_its_normal():
    """Outer wall of the ring from (40, -50) to (70, 40) mm, away from its ends; round-off only."""
    grid = even_grid(40)
    solid = place_solid(grid, SLANTED_RING)
    exact = np.array([-0.09, 0.03]) / np.hypot(0.09, 0.03)
    r_wall = 0.04 + 0.03 * (grid.z_c + 0.05) / 0.09
    cells = [
        (i, j)
        for i, j in np.argwhere(solid.cut_cells)
        if -0.045 < grid.z_c[j] < 0.035 and abs(grid.r_c[i] - r_wall[j]) < 0.004
    ]
    assert len(cells) > 30
    for i, j in cells:
        assert solid.plane[i, j, :2] == pytest.approx(exact, abs=1e-12), f"cell {i, j}"


@pytest.mark.parametrize("cells", [20, 33, 40])
def test_cut_cells_on_the_axis_know_the_walls_normal(cells):
    """A cone with its apex down: into it means inwards, in the apex' own cell too."""
    grid = even_grid(cells)
    solid = place_solid(grid, CONE - (0.0, 0.0013))
    exact = np.array([-0.12, 0.06]) / np.hypot(0.12, 0.06)
    low = [j for j in np.flatnonzero(solid.cut_cells[0]) if grid.z_c[j] < 0.0]
    assert len(low) >= 2
    for j in low:
        assert solid.plane[0, j, :2] == pytest.approx(exact, abs=1e-12), f"row {j}"


@pytest.mark.parametrize("shift", [(0.06, 0.0), (0.0, 0.06), (0.0, -0.06)])
def test_outline_that_leaves_the_grid_is_refused(shift):
    """A body on the grid's edge would lose part of its wall."""
    with pytest.raises(ValueError, match="leaves the grid"):
        place_solid(even_grid(12), SLANTED_RING + shift)
