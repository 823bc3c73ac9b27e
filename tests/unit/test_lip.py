"""The lip of a hole on the grid: set back behind a sharp edge, else left as it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case, load_case
from sinkbowl.case.shipped import shipped_case
from sinkbowl.flow.grid import Grid
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.lip import BEHIND, LONGEST_LIP, set_back
from sinkbowl.flow.solid import place_solid

SHAPES = pytest.mark.parametrize(
    "name", ["steel-cup", "beech-dish-brass-ring", "brass-cap", "lily-bowl"]
)


def sharp(name: str, hole: float = 0.020, **changes: str) -> Case:
    """A shipped case with a resolved hole [m], sharp unless said otherwise."""
    case = load_case(shipped_case(name)).with_hole(hole)
    flow = replace(case.flow, hole="resolved")
    return replace(case, hole=replace(case.hole, **{"edge": "sharp", **changes}), flow=flow)


def carried(case: Case, bowl: Bowl | None = None) -> tuple[Bowl, Grid]:
    grid = lay_out(case).grid
    return set_back(case, bowl or case.bowl, grid), grid


def lip_height(bowl: Bowl, end: float) -> float:
    """Height of the inner side where the lip begins [m]."""
    return float(bowl.inner[bowl.inner[:, 0] <= end, 1].max())


def test_a_sharp_edge_stays_and_the_lip_of_a_level_base_begins_behind_it() -> None:
    """Design rule: a sheet from the edge to the lip, whose volume is that of a ring."""
    case = sharp("steel-cup")
    bowl, grid = carried(case)
    end = grid.r_f[grid.r_f.tolist().index(0.010) + BEHIND]
    assert bowl.inner[:3] == pytest.approx(np.array([[0.010, 0.0], [end, 0.0], [end, 0.002]]))
    assert np.array_equal(bowl.inner[3:], case.bowl.inner[1:])
    assert np.array_equal(bowl.outer[2:], case.bowl.outer[1:])
    added = np.pi * (end**2 - 0.010**2) * 0.002
    assert bowl.inner_capacity - case.bowl.inner_capacity == pytest.approx(added, rel=1e-9)
    assert bowl.outer_volume(0.06) == pytest.approx(case.bowl.outer_volume(0.06), rel=1e-12)


@SHAPES
def test_only_the_faces_of_hole_and_jet_join_the_two_sides_of_the_sheet(name: str) -> None:
    """From first principles: a wall is tight. Every face on the sheet is closed, whole."""
    layout = lay_out(sharp(name))
    grid, bowl = layout.grid, layout.bowl
    assert layout.lip_set_back
    solid = place_solid(grid, bowl.polygon)
    edge = grid.r_f.tolist().index(bowl.hole_radius)
    floor = int(np.argmin(np.abs(grid.z_f - bowl.outer_edge_height)))
    end = edge + BEHIND
    top = int(np.searchsorted(grid.z_f, lip_height(bowl, grid.r_f[end])))
    assert np.all(solid.area_z[edge:end, floor] == 0.0)
    assert np.all(solid.area_z[:edge, floor] > 0.0)
    assert np.all(solid.area_r[end, floor : top - 1] == 0.0)
    assert np.all(solid.volume[edge:end, floor - 1 : floor + 1] > 0.0)


@SHAPES
def test_no_cell_at_the_lip_has_two_open_parts(name: str) -> None:
    """Cells are cut on the outer side of a curved base only, each by one plane."""
    layout = lay_out(sharp(name))
    grid, solid = layout.grid, place_solid(layout.grid, layout.bowl.polygon)
    end = grid.r_f.tolist().index(layout.bowl.hole_radius) + BEHIND
    base = grid.z_c < lip_height(layout.bowl, grid.r_f[end])
    assert not solid.cut_cells[:end, base].any()


@pytest.mark.parametrize(
    "case",
    [
        sharp("steel-cup", edge="rounded"),
        sharp("steel-cup", 0.9 * 0.002 / LONGEST_LIP),
        sharp("steel-cup", 0.094),
        load_case(shipped_case("open-ring")),
        sharp("brass-cap", 0.070),
    ],
    ids=["rounded", "long lip", "next to the wall", "base gone", "steep base"],
)
def test_other_lips_are_left_alone(case: Case) -> None:
    """Where the jet is clear of the lip anyway, or follows it, or there is no room."""
    assert carried(case)[0] is case.bowl


def test_a_lip_under_a_base_that_dips_below_the_edge_is_left_alone() -> None:
    """The bowl's lowest point must stay where the draft is counted from."""
    case = sharp("steel-cup")
    outer = [[0.010, 0.001], [0.0105, 0.0], [0.011, 0.001], [0.05, 0.001], [0.05, 0.06]]
    inner = [[0.010, 0.002], [0.048, 0.002], [0.048, 0.06]]
    bowl = Bowl.from_outlines(outer, inner, 0.2)
    assert carried(case, bowl)[0] is bowl
