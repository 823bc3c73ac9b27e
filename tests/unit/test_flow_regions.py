"""What counts as inside the bowl."""

from pathlib import Path

import numpy as np
import pytest

from sinkbowl.case.case import Case, load_case, parse_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.flow.grid.solid import LEAST_OPEN, closed, inside_cells, place_solid
from sinkbowl.flow.layout import lay_out


def inside(case: Case) -> tuple[np.ndarray, float, float]:
    """Mask of the inside cells, their open volume and that of the slivers they may lack [m^3]."""
    layout = lay_out(case)
    grid, bowl = layout.grid, case.bowl
    solid = place_solid(grid, layout.bowl.polygon)
    shut = closed(grid, solid, z_faces=layout.hole.lid(grid))
    found = inside_cells(grid, shut, bowl.rim_height)
    around = np.pad(found, 1)
    beside = around[2:, 1:-1] | around[:-2, 1:-1] | around[1:-1, 2:] | around[1:-1, :-2]
    whole = np.outer(grid.r_c * grid.dr, grid.dz)
    slivers = LEAST_OPEN * whole[beside & ~solid.open_cells].sum()
    return found, 2.0 * np.pi * float(solid.volume[found].sum()), 2.0 * np.pi * float(slivers)


@pytest.mark.parametrize("name", shipped_cases())
def test_inside_holds_the_bowls_capacity_but_for_closed_slivers(name):
    """Capacity to the brim with the plug of water in the hole, exact on the carried outline.

    Slivers below 2 % of a cell are closed, never opened.
    """
    case = load_case(shipped_cases()[name])
    _, volume, slivers = inside(case)
    capacity = lay_out(case).bowl.inner_capacity
    missing = capacity - volume
    print(f"{name}: {missing / capacity:.1e} of the capacity missing")
    assert -1e-12 * volume < missing <= slivers + 1e-12 * volume


@pytest.mark.parametrize("name", shipped_cases())
def test_nothing_above_the_rim_or_below_the_base_is_inside(name):
    """Rows between the hole's outer edge and the rim; every one of them has inside cells."""
    case = load_case(shipped_cases()[name])
    grid = lay_out(case).grid
    rows = inside(case)[0].any(axis=0)
    expected = (grid.z_c > 0.0) & (grid.z_c < case.bowl.rim_height)
    assert np.array_equal(rows, expected)


@pytest.mark.parametrize("name", shipped_cases())
def test_inside_cells_have_the_wall_outside_them(name):
    """In each row the inside is one block from the axis, no wider than the inner outline."""
    case = load_case(shipped_cases()[name])
    layout, found = lay_out(case), inside(case)[0]
    grid, bowl = layout.grid, layout.bowl
    for j in np.flatnonzero(found.any(axis=0)):
        cells = np.flatnonzero(found[:, j])
        assert np.array_equal(cells, np.arange(len(cells)))
        area = float(bowl.inner_waterplane(grid.z_f[j + 1] - 1e-12))
        low = float(bowl.inner_waterplane(grid.z_f[j] + 1e-12))
        assert grid.r_f[cells[-1]] <= np.sqrt(max(area, low) / np.pi) + 1e-12


def test_hole_cells_within_the_base_are_inside_and_those_below_it_are_not():
    """The plug of water counts, down to the disc at z = 0 that closes the hole."""
    case = load_case(shipped_cases()["steel-cup"])
    grid, found = lay_out(case).grid, inside(case)[0]
    in_hole, in_base = grid.r_c < 0.01, (grid.z_c > 0.0) & (grid.z_c < 0.002)
    assert in_base.sum() >= 2
    assert found[np.ix_(in_hole, in_base)].all()
    assert not found[np.ix_(grid.r_c > 0.011, in_base)].any()  # the lip's cone ends there
    assert not found[:, grid.z_c < 0.0].any()


def test_ring_without_a_base_has_an_inside_between_its_ends():
    """A hole as wide as the inside: the whole bore, pi R^2 H."""
    case = load_case(shipped_cases()["open-ring"])
    _, volume, _ = inside(case)
    assert volume == pytest.approx(np.pi * 0.048**2 * 0.06, rel=1e-12)


def test_thickened_wall_leaves_less_room_inside():
    """A 2 mm cap on cells of 2 mm is carried with 4 mm: about 2 mm of its inner face is lost."""
    text = (
        shipped_cases()["brass-cap"].read_text() + '\n[flow]\ncell = "2 mm"\nbase_cell = "2 mm"\n'
    )
    case = parse_case(text, Path(), "cap")
    _, volume, _ = inside(case)
    lost = case.bowl.inner_capacity - volume
    face = 2.0 * np.pi * 0.072 * 0.058  # zone of the inner sphere, 2 pi S h
    assert lost == pytest.approx(0.002 * face, rel=0.1)
