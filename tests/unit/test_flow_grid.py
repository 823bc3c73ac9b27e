"""Grid lines: through every break, graded smoothly, none lost and none doubled."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flow_bodies import FloatArray
from sinkbowl.flow.grid.grid import (
    GROWTH,
    Grid,
    Spacing,
    cell_volumes,
    lay_lines,
    merge_close,
    uniform_grid,
)

POSITIONS = st.lists(st.integers(1, 1000), min_size=2, max_size=7, unique=True)


def breaks_from(numbers: list[int]) -> list[float]:
    """Ascending breaks between 0 and 1 m, at least 1 mm apart."""
    return [0.0, *(1e-3 * number for number in sorted(numbers))]


def neighbour_ratio(lines: FloatArray) -> FloatArray:
    """Size of the larger over that of the smaller of each pair of neighbouring cells."""
    size = np.diff(lines)
    return np.maximum(size[1:] / size[:-1], size[:-1] / size[1:])


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
    """The number of cells is rounded up, by all but 0.02 of a cell.

    The target at a cell's far end is at most one growth larger than at its near end.
    """
    target = Spacing(size, middle, middle + 0.1)
    lines = lay_lines(breaks_from(numbers), [target])
    wanted = np.maximum(target(lines[1:]), target(lines[:-1]))
    over = np.diff(lines) / wanted
    assert over.max() <= 1.02, f"{over.max():.4f}"


@pytest.mark.parametrize("growth", [0.04, GROWTH, 0.1])
def test_neighbouring_cells_of_a_stretch_differ_by_the_growth(growth):
    """Between two breaks, ds = h(x) dn: the spacing grows by exp(growth) a cell at most.

    The lines are read off a table of 2001 points, here a thirtieth of a cell apart, and good to the
    square of that.
    """
    fine = Spacing(1e-3, 0.02, 0.03, growth)
    ratio = neighbour_ratio(lay_lines([0.0, 0.07], [fine]))
    assert ratio.max() <= np.exp(growth) + 1e-3, f"{ratio.max():.4f}"
    assert ratio.max() > 1.0 + 0.9 * growth


@settings(deadline=None)
@given(st.floats(2.0, 60.0), st.floats(2.0, 60.0), st.floats(0.5e-3, 3e-3))
def test_cells_on_both_sides_of_a_break_are_alike(left, right, size):
    """Two spans of `left` and `right` cells; each is cut into a whole number, rounded up.

    n cells in place of n - 1 + 0.02 make them smaller by a third at most from two cells on.
    """
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


def test_breaks_farther_apart_than_the_gap_are_all_kept():
    """From first principles; doubles count once."""
    assert merge_close([0.3, 0.1, 0.2, 0.1, 0.0], 0.05) == [0.0, 0.1, 0.2, 0.3]


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


def test_uniform_grid_has_equal_cells():
    """From first principles."""
    grid = uniform_grid(0.1, -0.2, 0.3, 8, 25)
    assert grid.shape == (8, 25)
    assert grid.dr == pytest.approx(np.full(8, 0.0125), rel=1e-12)
    assert grid.dz == pytest.approx(np.full(25, 0.02), rel=1e-12)
    assert (grid.r_f[0], grid.r_f[-1], grid.z_f[0], grid.z_f[-1]) == (0.0, 0.1, -0.2, 0.3)
