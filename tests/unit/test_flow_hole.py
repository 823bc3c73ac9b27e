"""The hole's place on the grid, and faces and cells that are closed in one way everywhere."""

from dataclasses import fields

import numpy as np
import pytest

from flow_bodies import even_grid
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.flow.effects.orifice_model import contraction
from sinkbowl.flow.grid.solid import Solid, closed, place_solid
from sinkbowl.flow.layout import lay_out
from sinkbowl.verification.tanks import sphere


@pytest.mark.parametrize("name", shipped_cases())
def test_hole_has_one_diameter(name):
    """That of the bowl's outlines; a case drilled anew follows."""
    case = load_case(shipped_cases()[name])
    assert case.hole.diameter == 2.0 * case.bowl.hole_radius
    if not case.base_gone:
        other = case.with_hole(0.5 * case.hole.diameter)
        assert other.hole.diameter == 2.0 * other.bowl.hole_radius == 0.5 * case.hole.diameter
        assert other.hole.edge == case.hole.edge


@pytest.mark.parametrize("name", shipped_cases())
def test_hole_on_the_grid_has_the_area_and_length_of_the_bowl_s(name):
    """From first principles; an unresolved hole has its jet's area, a curved base's inner edge lies
    within half a cell of a line.
    """
    case = load_case(shipped_cases()[name])
    layout = lay_out(case)
    grid, hole = layout.grid, layout.hole
    area = 2.0 * np.pi * float(np.sum((grid.r_c * grid.dr)[hole.rows]))
    share = contraction(case) if layout.closed else 1.0
    assert area == pytest.approx(share * case.hole.area, rel=1e-9)
    low, high = layout.bowl.outer_edge_height, layout.bowl.inner_edge_height
    assert grid.z_f[hole.plug] == pytest.approx(low, abs=1e-9)
    assert abs(grid.z_f[hole.exit] - high) <= 0.5 * grid.dz[hole.exit - 1 : hole.exit + 1].max()
    assert hole.neck[[0, -1]].tolist() == [hole.plug, hole.exit]
    assert hole.plug < hole.edge <= hole.exit
    assert hole.lid(grid).sum() == hole.columns


def same(one: Solid, other: Solid) -> bool:
    return all(np.array_equal(getattr(one, f.name), getattr(other, f.name)) for f in fields(Solid))


def test_lid_takes_the_pressure_on_both_sides():
    """From first principles: a lid has no volume, and faces up as much as down."""
    grid = even_grid(20)
    lid = np.outer(grid.r_c < 0.04, np.arange(len(grid.z_f)) == 12)
    shut = closed(grid, place_solid(grid, None), z_faces=lid)
    assert np.all(shut.volume > 0.0)
    assert shut.heave_area.sum() == pytest.approx(0.0, abs=1e-15)
    assert np.abs(shut.heave_area[:, [11, 12]]).sum() == pytest.approx(0.04**2, rel=1e-9)
    inner, _, outer, _ = shut.pieces.T
    assert np.sum(outer**2 - inner**2) == pytest.approx(0.0, abs=1e-15)
    assert {(int(i), int(j)) for i, j in shut.piece_cell} == {
        (i, j) for i in range(8) for j in (11, 12)
    }


def test_filled_cells_are_walled_all_round():
    """The surface of a block of cells, from first principles; its pieces run counter-clockwise."""
    grid = even_grid(20)
    block = np.zeros(grid.shape, dtype=np.bool_)
    block[3:6, 10:14] = True
    solid = closed(grid, place_solid(grid, None), cells=block)
    ra, za, rb, zb = solid.pieces.T
    width, height = grid.r_f[6] - grid.r_f[3], grid.z_f[14] - grid.z_f[10]
    assert np.hypot(rb - ra, zb - za).sum() == pytest.approx(2.0 * (width + height), rel=1e-12)
    swept = 0.125 * np.sum((zb - za) * (ra + rb) ** 2)
    assert swept == pytest.approx(np.sum((grid.r_c * grid.dr)[3:6]) * height, rel=1e-12)
    assert not np.any(block[tuple(solid.piece_cell.T)])
    assert solid.heave_area.sum() == pytest.approx(0.0, abs=1e-15)


def test_closing_nothing_changes_nothing():
    """Of a body with cut cells, and without its own closed cells being touched."""
    grid = even_grid(20)
    solid = place_solid(grid, sphere(0.05))
    assert same(closed(grid, solid), solid)
    assert same(closed(grid, solid, cells=~solid.open_cells), solid)
