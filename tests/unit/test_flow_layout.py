"""From a case to its grid: lines through every break, graded smoothly, walls thick enough."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flow_bodies import FloatArray, distances, pappus
from sinkbowl.bowl.bowl import first_crossing
from sinkbowl.case.case import Case, load_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.flow.grid import (
    GROWTH,
    Grid,
    Spacing,
    cell_volumes,
    lay_lines,
    merge_close,
    uniform_grid,
)
from sinkbowl.flow.layout import WALL_CELLS, Layout, default_cell, lay_out, thicken_inwards
from sinkbowl.flow.solid import place_solid

CASES = {name: load_case(path) for name, path in shipped_cases().items()}
LAYOUTS = {
    name: lay_out(replace(case, flow=replace(case.flow, hole="resolved")))
    for name, case in CASES.items()
}
SHIPPED = pytest.mark.parametrize("name", CASES)
OBLIQUE = pytest.mark.parametrize("name", ["beech-dish-bare", "brass-cap", "lily-bowl"])
CURVED = pytest.mark.parametrize("name", ["brass-cap", "lily-bowl"])
POSITIONS = st.lists(st.integers(1, 1000), min_size=2, max_size=7, unique=True)


def with_cell(name: str, cell: float) -> Case:
    """A shipped case on cells of a size, its hole resolved."""
    case = CASES[name]
    return replace(case, flow=replace(case.flow, cell=cell, hole="resolved"))


def cells_between(lines: FloatArray, low: float, high: float) -> int:
    return int(np.sum((lines > low + 1e-9) & (lines < high + 1e-9)))


def inner_of(layout: Layout, case: Case) -> FloatArray:
    """Inner outline on the grid, from the hole's edge to the rim."""
    return layout.bowl.polygon[len(case.bowl.outer) :][::-1]


@SHIPPED
def test_straight_walls_and_the_hole_lie_on_grid_lines(name):
    """Design rule; to the last bit."""
    bowl, grid = CASES[name].bowl, LAYOUTS[name].grid
    assert set(bowl.straight_r) <= set(grid.r_f.tolist())
    assert set(bowl.straight_z) <= set(grid.z_f.tolist())
    assert bowl.hole_radius in grid.r_f
    assert {0.0, bowl.rim_height} <= set(grid.z_f.tolist())


@SHIPPED
def test_realised_hole_area_is_exact_at_every_level_of_the_base(name):
    """pi d^2 / 4 over 2 pi: the open area within the hole's edge, and no more beyond it."""
    case, grid = CASES[name], LAYOUTS[name].grid
    solid = place_solid(grid, LAYOUTS[name].bowl.polygon)
    edge, inner = case.bowl.outer_edge_height, case.bowl.inner_edge_height
    levels = np.flatnonzero((grid.z_f > edge - 1e-12) & (grid.z_f < inner + 1e-12))
    assert len(levels) >= 3
    within = grid.r_c < case.bowl.hole_radius
    for j in levels:
        area = 2.0 * np.pi * solid.area_z[within, j].sum()
        assert area == pytest.approx(case.hole.area, rel=1e-12)
    base = grid.r_c < case.bowl.inner[1, 0]
    for j in levels[1:-1]:
        area = 2.0 * np.pi * solid.area_z[base, j].sum()
        assert area == pytest.approx(case.hole.area, rel=1e-6)


@SHIPPED
def test_every_wall_has_at_least_two_cells_across(name):
    """Aligned walls by the lines between their faces, others by their least thickness."""
    bowl, layout = CASES[name].bowl, LAYOUTS[name]
    for lines, faces in ((layout.grid.r_f, bowl.straight_r), (layout.grid.z_f, bowl.straight_z)):
        for low, high in pairwise(faces):
            assert cells_between(lines, low, high) >= WALL_CELLS, f"{low} to {high}"
    aligned = np.min(np.abs(np.diff(bowl.inner, axis=0)), axis=1) < 1e-9
    oblique = bowl.inner[1:][~aligned]
    if len(oblique):
        thinnest = distances(oblique, bowl.outer).min() + layout.thickened
        assert thinnest >= WALL_CELLS * layout.cell * (1.0 - 1e-9)


def neighbour_ratio(lines: FloatArray) -> FloatArray:
    """Size of the larger over that of the smaller of each pair of neighbouring cells."""
    size = np.diff(lines)
    return np.maximum(size[1:] / size[:-1], size[:-1] / size[1:])


@SHIPPED
def test_neighbouring_cells_differ_by_a_tenth_at_most(name):
    """Design rule: stretched by at most 1.1."""
    for lines in (LAYOUTS[name].grid.r_f, LAYOUTS[name].grid.z_f):
        assert neighbour_ratio(lines).max() <= 1.1


@SHIPPED
def test_grid_reaches_from_the_axis_to_the_tub_and_beyond_the_bowl(name):
    """The tub's radius is kept; the bottom lies two rim radii below the bowl or deeper."""
    case, grid = CASES[name], LAYOUTS[name].grid
    assert grid.r_f[0] == 0.0
    assert grid.r_f[-1] == case.flow.tub_radius
    assert grid.z_f[0] <= -2.0 * case.bowl.rim_radius
    assert grid.z_f[-1] >= 1.5 * case.bowl.rim_height


@SHIPPED
def test_cells_at_the_hole_and_around_the_bowl_are_as_fine_as_promised(name):
    """`finest` at the hole's edge, `cell` over the whole bowl; counts are rounded up."""
    case, layout = CASES[name], LAYOUTS[name]
    grid, edge = layout.grid, case.bowl.hole_radius
    at_edge = np.abs(grid.r_c - edge) < 2.0 * layout.finest
    assert grid.dr[at_edge].max() <= 1.02 * layout.finest
    assert grid.dr[grid.r_c < case.bowl.rim_radius].max() <= 1.02 * layout.cell
    over = (grid.z_c > 0.0) & (grid.z_c < case.bowl.rim_height)
    assert grid.dz[over].max() <= 1.02 * layout.cell


@SHIPPED
def test_shipped_cases_need_no_thickening_and_a_named_cell_is_kept(name):
    """Their cell is chosen from hole and wall, so that the wall is carried as it is; flow.cell is
    what the case says, never finer or coarser."""
    assert LAYOUTS[name].thickened == 0.0
    assert LAYOUTS[name].bowl is CASES[name].bowl
    assert LAYOUTS[name].cell == default_cell(CASES[name].bowl)
    assert lay_out(with_cell(name, 1.7e-3)).cell == 1.7e-3


@OBLIQUE
@pytest.mark.parametrize("cell", [3e-3, 4e-3])
def test_thickened_wall_keeps_outer_side_hole_and_rim(name, cell):
    """Displacement, hole and height are the bowl's own; only room inside is lost."""
    case = with_cell(name, cell)
    layout, bowl = lay_out(case), case.bowl
    assert layout.thickened > 0.0
    assert np.array_equal(layout.bowl.polygon[: len(bowl.outer)], bowl.outer)
    inner = inner_of(layout, case)
    assert inner[0, 0] == bowl.hole_radius
    assert inner[-1, 1] == bowl.rim_height
    assert inner[0, 1] == pytest.approx(bowl.inner_edge_height + layout.thickened, abs=1e-5)
    assert first_crossing(layout.bowl.polygon, closed=True) is None
    solid = place_solid(layout.grid, layout.bowl.polygon)
    within = layout.grid.r_c < bowl.hole_radius
    j = int(np.argmin(np.abs(layout.grid.z_f)))
    assert 2.0 * np.pi * solid.area_z[within, j].sum() == pytest.approx(case.hole.area, rel=1e-12)


@CURVED
def test_thickened_wall_is_thicker_by_the_amount_away_from_bends_and_rim(name):
    """The inner side moves along its normal, the chords' own bends of some degrees apart."""
    bowl, amount = CASES[name].bowl, 1e-3
    inner = thicken_inwards(bowl, amount).inner
    middles = 0.5 * (inner[1:] + inner[:-1])
    reach = 0.2 * bowl.rim_height
    inside = (middles[:, 1] > reach) & (middles[:, 1] < bowl.rim_height - reach)
    gained = distances(middles[inside], bowl.inner)
    assert inside.any()
    assert gained == pytest.approx(np.full(inside.sum(), amount), rel=0.01)


@CURVED
def test_thickening_takes_up_the_area_of_the_inner_side_times_the_amount(name):
    """To first order in the amount, which is 0.1 mm here; corners and rim add to second order."""
    bowl, amount = CASES[name].bowl, 1e-4
    gained = pappus(thicken_inwards(bowl, amount).polygon) - pappus(bowl.polygon)
    step = np.diff(bowl.inner, axis=0)
    face = float(np.sum(np.hypot(*step.T) * 0.5 * (bowl.inner[1:, 0] + bowl.inner[:-1, 0])))
    assert gained == pytest.approx(amount * face, rel=0.02)


def breaks_from(numbers: list[int]) -> list[float]:
    """Ascending breaks between 0 and 1 m, at least 1 mm apart."""
    return [0.0, *(1e-3 * number for number in sorted(numbers))]


@settings(deadline=None)
@given(POSITIONS, st.floats(1e-3, 0.05), st.floats(0.0, 1.0))
def test_every_break_is_a_grid_line(numbers, size, middle):
    """From first principles, to the last bit: walls are found again by comparing numbers."""
    breaks = breaks_from(numbers)
    lines = lay_lines(breaks, [Spacing(size, middle, middle + 0.1)])
    assert set(breaks) <= set(lines.tolist())
    assert lines[0] == breaks[0]
    assert lines[-1] == breaks[-1]
    assert np.all(np.diff(lines) > 0.0)


@settings(deadline=None)
@given(POSITIONS, st.floats(1e-3, 0.05), st.floats(0.0, 1.0))
def test_no_cell_is_larger_than_its_target_allows(numbers, size, middle):
    """The number of cells is rounded up, by all but 0.02 of a cell. The target at a cell's far end
    is at most one growth larger than at its near end."""
    target = Spacing(size, middle, middle + 0.1)
    lines = lay_lines(breaks_from(numbers), [target])
    wanted = np.maximum(target(lines[1:]), target(lines[:-1]))
    over = np.diff(lines) / wanted
    assert over.max() <= 1.02, f"{over.max():.4f}"


@pytest.mark.parametrize("growth", [0.04, GROWTH, 0.1])
def test_neighbouring_cells_of_a_stretch_differ_by_the_growth(growth):
    """Between two breaks, ds = h(x) dn: the spacing grows by exp(growth) a cell at most. The lines
    are read off a table of 2001 points, here a thirtieth of a cell apart, and good to the square of
    that."""
    fine = Spacing(1e-3, 0.02, 0.03, growth)
    ratio = neighbour_ratio(lay_lines([0.0, 0.07], [fine]))
    assert ratio.max() <= np.exp(growth) + 1e-3, f"{ratio.max():.4f}"
    assert ratio.max() > 1.0 + 0.9 * growth


@settings(deadline=None)
@given(st.floats(2.0, 60.0), st.floats(2.0, 60.0), st.floats(0.5e-3, 3e-3))
def test_cells_on_both_sides_of_a_break_are_alike(left, right, size):
    """Two spans of `left` and `right` cells; each is cut into a whole number, rounded up. n cells
    in place of n - 1 + 0.02 make them smaller by a third at most from two cells on."""
    lines = lay_lines([0.0, left * size, (left + right) * size], [Spacing(size, 0.0, 1.0)])
    assert neighbour_ratio(lines).max() <= 3.0 / 2.02 + 1e-9


def test_the_finest_target_counts_everywhere():
    """Two targets: each rules near its own place."""
    targets = [Spacing(4e-3, 0.0, 0.2), Spacing(1e-3, 0.095, 0.105)]
    lines = lay_lines([0.0, 0.2], targets)
    size, middle = np.diff(lines), 0.5 * (lines[1:] + lines[:-1])
    assert size[np.argmin(np.abs(middle - 0.1))] == pytest.approx(1e-3, rel=0.02)
    assert size[0] == pytest.approx(4e-3, rel=0.1)
    assert size.max() <= 4e-3 * 1.02


@given(POSITIONS, st.floats(0.5e-3, 0.3))
def test_merged_breaks_stand_apart_and_keep_both_ends(numbers, gap):
    """None is invented; only the last pair may stand closer, where both ends must stay."""
    breaks = breaks_from(numbers)
    kept = merge_close(breaks[::-1], gap)
    assert set(kept) <= set(breaks)
    assert (kept[0], kept[-1]) == (breaks[0], breaks[-1]) or len(kept) == 1
    assert np.all(np.diff(kept) > gap)
    assert kept == sorted(set(kept))


def test_breaks_farther_apart_than_the_gap_are_all_kept_and_a_uniform_grid_has_equal_cells():
    """From first principles; doubles count once."""
    assert merge_close([0.3, 0.1, 0.2, 0.1, 0.0], 0.05) == [0.0, 0.1, 0.2, 0.3]
    grid = uniform_grid(0.1, -0.2, 0.3, 8, 25)
    assert grid.shape == (8, 25)
    assert grid.dr == pytest.approx(np.full(8, 0.0125), rel=1e-12)
    assert grid.dz == pytest.approx(np.full(25, 0.02), rel=1e-12)
    assert (grid.r_f[0], grid.r_f[-1], grid.z_f[0], grid.z_f[-1]) == (0.0, 0.1, -0.2, 0.3)


def test_cells_of_a_grid_fill_the_cylinder_it_covers():
    """pi R^2 H over 2 pi, on a graded grid; each ring is (r1^2 - r0^2) / 2 dz."""
    grid = Grid(
        lay_lines([0.0, 0.07, 0.2], [Spacing(0.004, 0.06, 0.08)]),
        lay_lines([-0.3, 0.0, 0.1], [Spacing(0.003, -0.01, 0.02)]),
    )
    volumes = cell_volumes(grid)
    assert volumes.shape == grid.shape == (len(grid.r_f) - 1, len(grid.z_f) - 1)
    assert volumes.sum() == pytest.approx(0.5 * 0.2**2 * 0.4, rel=1e-13)
    rings = 0.5 * np.diff(grid.r_f**2)
    assert volumes == pytest.approx(np.outer(rings, grid.dz), rel=1e-12)
    assert grid.r_c == pytest.approx(grid.r_f[:-1] + 0.5 * grid.dr, rel=1e-15)
    assert grid.z_c == pytest.approx(grid.z_f[:-1] + 0.5 * grid.dz, rel=1e-12)
