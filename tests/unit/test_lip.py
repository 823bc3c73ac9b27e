"""The lip of a hole on the grid: cut or set back behind a sharp edge, else left as it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case, load_case
from sinkbowl.case.shipped import shipped_case
from sinkbowl.flow.grid.grid import Grid
from sinkbowl.flow.grid.lip import BEHIND, CLEAR_CELLS, LONGEST_LIP, SLOPE, clear_lip, set_back
from sinkbowl.flow.grid.solid import place_solid
from sinkbowl.flow.layout import lay_out

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
    return set_back(bowl or case.bowl, grid), grid


def lip_height(bowl: Bowl, end: float) -> float:
    """Height of the inner side where the lip begins [m]."""
    return float(bowl.inner[bowl.inner[:, 0] <= end, 1].max())


def cleared(case: Case, cells: float = 20.0) -> tuple[Bowl, str]:
    fine = replace(case, flow=replace(case.flow, cell=5e-4))
    return clear_lip(case, case.bowl, lay_out(fine).grid, case.hole.diameter / cells)


def test_a_sharp_edge_stays_and_the_lip_of_a_level_base_is_cut_back_behind_it() -> None:
    """Design rule: the edge on the outer side, the cut's end on the inner base."""
    case = sharp("steel-cup")
    bowl, done = cleared(case)
    assert done == "cut back"
    assert bowl.inner[0] == pytest.approx([0.010, 0.0])
    assert bowl.inner[1] == pytest.approx([0.010 + SLOPE * 0.002, 0.002])
    assert np.array_equal(bowl.outer, case.bowl.outer)
    assert np.array_equal(bowl.inner[2:], case.bowl.inner[1:])
    cone = np.pi * 0.002 * (0.010**2 + 0.010 * 0.011 + 0.011**2) / 3.0  # frustum, textbook
    added = cone - np.pi * 0.010**2 * 0.002
    assert bowl.inner_capacity - case.bowl.inner_capacity == pytest.approx(added, rel=1e-9)


@pytest.mark.parametrize("case", [sharp("brass-cap"), sharp("lily-bowl", 0.040)])
def test_a_lip_that_cannot_be_cut_back_is_set_back(case: Case) -> None:
    """A curved base, and a level one too narrow for the cut."""
    assert cleared(case)[1] == "set back"


def test_a_lip_set_back_leaves_a_sheet_up_to_the_edge() -> None:
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
    case = sharp(name)
    bowl, grid = carried(case)
    assert bowl is not case.bowl
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
    bowl, grid = carried(sharp(name))
    solid = place_solid(grid, bowl.polygon)
    end = grid.r_f.tolist().index(bowl.hole_radius) + BEHIND
    base = grid.z_c < lip_height(bowl, grid.r_f[end])
    assert not solid.cut_cells[:end, base].any()


@pytest.mark.parametrize(
    ("case", "cells"),
    [
        (sharp("steel-cup", edge="rounded"), 20.0),
        (sharp("steel-cup"), CLEAR_CELLS),
        (sharp("steel-cup", 0.9 * 0.002 / LONGEST_LIP), 20.0),
        (sharp("steel-cup", 0.0955), 20.0),
        (load_case(shipped_case("open-ring")), 20.0),
        (sharp("brass-cap", 0.070), 20.0),
    ],
    ids=["rounded", "fine grid", "long lip", "next to the wall", "base gone", "steep base"],
)
def test_other_lips_are_left_alone(case: Case, cells: float) -> None:
    """Where the jet is clear of the lip anyway, or follows it, or there is no room."""
    assert cleared(case, cells) == (case.bowl, "")


def test_a_lip_under_a_base_that_dips_below_the_edge_is_left_alone() -> None:
    """The bowl's lowest point must stay where the draft is counted from."""
    case = sharp("steel-cup")
    outer = [[0.010, 0.001], [0.0105, 0.0], [0.011, 0.001], [0.05, 0.001], [0.05, 0.06]]
    inner = [[0.010, 0.002], [0.048, 0.002], [0.048, 0.06]]
    bowl = Bowl.from_outlines(outer, inner, 0.2)
    assert carried(case, bowl)[0] is bowl
