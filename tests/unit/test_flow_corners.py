"""Corners of the flow solver's set-up: foot rings, tiny holes, thick walls, walls and rims.

Each once went wrong; all from first principles.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

import cups
from flow_bodies import distances, even_grid, slanted_tank
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case, load_case, parse_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError
from sinkbowl.flow.layout import WALL_CELLS, lay_out
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.solid import closed, inside_cells, place_solid
from sinkbowl.flow.state import HeaveBody
from sinkbowl.flow.step import advance, extend_velocity
from sinkbowl.statics.hydrostatics import final_draft
from sinkbowl.verification.tanks import full_tank


def cup(hole: str, cell: str, more: str = "", **changes: str) -> Case:
    """The straight cup on cells of a size."""
    return cups.cup(hole, more=f'[flow]\ncell = "{cell}"\nbase_cell = "{cell}"\n{more}', **changes)


def inner_share(case: Case) -> float:
    """Open volume of the inside cells over the bowl's capacity."""
    layout, bowl = lay_out(case), case.bowl
    solid = place_solid(layout.grid, layout.bowl.polygon)
    shut = closed(layout.grid, solid, z_faces=layout.hole.lid(layout.grid))
    inside = inside_cells(layout.grid, shut, bowl.rim_height)
    return 2.0 * np.pi * float(solid.volume[inside].sum()) / bowl.inner_capacity


def test_bowl_on_a_foot_ring_has_an_inside(tmp_path):
    """Base 4 mm above the foot's lowest point: the hole is closed at its own outer edge."""
    rows = "0,4\n18,4\n20,0\n24,0\n26,6\n40,20\n50,50\n"
    (tmp_path / "foot.csv").write_text("r [mm], z [mm]\n" + rows)
    text = """
        [bowl]
        shape = "profile"
        profile = "foot.csv"
        wall = "2 mm"
        density = "2700 kg/m^3"
        [hole]
        diameter = "10 mm"
        """
    share = inner_share(parse_case(text, tmp_path, "foot.toml"))
    assert share == pytest.approx(1.0, abs=0.01), f"{share:.3f} of the capacity is inside"


def test_cut_cell_above_a_level_base_keeps_the_slanted_walls_normal():
    """Inner corner of the beech dish: the level base bounds the cell but does not cut it."""
    case = load_case(shipped_cases()["beech-dish-bare"])
    layout = lay_out(case)
    grid, solid = layout.grid, place_solid(layout.grid, layout.bowl.polygon)
    a, b = case.bowl.inner[1], case.bowl.inner[2]
    exact = np.array([b[1] - a[1], a[0] - b[0]]) / np.hypot(*(b - a))
    i = int(np.searchsorted(grid.r_f, a[0])) - 1
    j = int(np.argmin(np.abs(grid.z_f - a[1])))
    found = solid.plane[i, j, :2]
    assert found @ exact > np.cos(np.radians(10.0)), f"{found}, wall {exact}"


def test_cells_too_coarse_for_the_hole_are_refused():
    """0.5 mm on cells of 4 mm: nothing of the jet would be left."""
    with pytest.raises(CaseError, match=r"flow\.cell"):
        initialise(cup("0.5 mm", "4 mm"))


@pytest.mark.parametrize("cell", [2e-3, 3e-3, 4e-3])
@pytest.mark.parametrize("name", ["beech-dish-bare", "brass-cap", "lily-bowl"])
def test_thickened_wall_spans_two_cells_everywhere(name, cell):
    """WALL_CELLS, at bends and ends too; 1e-3 because the wall is measured at points."""
    case = load_case(shipped_cases()[name])
    flow = replace(case.flow, cell=cell, hole="resolved")
    case = replace(case, flow=flow)
    layout, bowl = lay_out(case), case.bowl
    inner = layout.bowl.polygon[len(bowl.outer) :][::-1]
    along = np.linspace(0.0, 1.0, 11)[:, None]
    points = np.vstack([a + along * (b - a) for a, b in pairwise(inner)])
    thinnest = distances(points, bowl.outer).min() / cell
    assert thinnest >= WALL_CELLS * (1.0 - 1e-3), f"{thinnest:.2f} cells"


@pytest.mark.parametrize("cell", [None, 3e-3, 5e-3])
def test_part_sunk_bowl_is_in_equilibrium_on_a_thickened_wall(cell):
    """Levels equal at the Archimedes draft: no force is left. 1e-4 g on a thickened wall, whose
    closed slivers (below 2 % of a cell) hold no water."""
    case = load_case(shipped_cases()["beech-dish-bare"])
    case = replace(case, flow=replace(case.flow, cell=cell, base_cell=cell))
    sim = initialise(case)
    state, draft = sim.state, final_draft(case)
    state.water[:], state.extended[:], state.pressure[:] = 0.0, 0.0, 0.0
    fill_to(state, sim.ops, draft, np.ones_like(sim.inside))
    complete_state(state, sim.ops)
    sim.start_draft = draft
    advance(state, sim.body(), 1e-4, sim.ops)
    left = state.speed / 1e-4 / GRAVITY
    assert abs(left) < (1e-6 if cell is None else 1e-4), f"{left:.2e} g"


def test_flow_along_a_slanted_wall_passes_on_unchanged_to_all_wall_faces():
    """Slip: faces inside the wall with one component beside them take that component."""
    ops, state = full_tank(*slanted_tank(0.0025))
    slope = np.array([0.03, 0.09]) / np.hypot(0.03, 0.09)
    across = np.array([-slope[1], slope[0]])
    state.u_r[1:-1], state.u_z[:] = slope[0], slope[1]
    extend_velocity(state, ops)
    walls, lost = ops.walls, []
    for faces, normals, u, part in (
        (walls.r, walls.normal_r, state.u_r, slope[0]),
        (walls.z, walls.normal_z, state.u_z, slope[1]),
    ):
        for (i, j), normal in zip(faces, normals, strict=True):
            if np.hypot(*(normal - across)) < 0.01:
                lost.append(1.0 - u[i, j] / part)
    assert max(np.abs(lost)) < 0.02, f"{np.mean(np.abs(lost) > 0.02):.0%} of {len(lost)} faces"


def test_tabulated_inner_level_is_as_exact_as_it_says():
    """The step at the inner base lies on a height of the table."""
    sim = initialise(cup("40 mm", "4 mm"))
    table, bowl = sim.inner_table, sim.layout.bowl
    base = sim.case.bowl.inner_edge_height
    volumes = float(bowl.inner_volume(base)) * np.linspace(0.98, 1.05, 500)
    off = [abs(table.level(held) - bowl.inner_level(held)) for held in volumes]
    assert max(off) < 1e-7 * bowl.rim_height, f"{max(off) / bowl.rim_height:.1e} of the height"


def test_tabulated_water_that_the_wall_keeps_out_is_as_exact_as_its_level():
    """The case's volume at the carried bowl's level, by `Bowl`; a level's error times the area."""
    sim = initialise(cup("40 mm", "4 mm"))
    table, bowl, carried = sim.inner_table, sim.case.bowl, sim.layout.bowl
    volumes = carried.inner_volume(bowl.rim_height) * np.linspace(0.0, 1.0, 300)
    exact = bowl.inner_volume(carried.inner_level(volumes)) - volumes
    off = max(abs(table.kept_out(v) - e) for v, e in zip(volumes, exact, strict=True))
    assert np.ptp(exact) > 0.0
    assert off < 1e-7 * bowl.rim_height * np.pi * bowl.rim_radius**2


def test_nothing_falls_inside_the_solid():
    """Still water, 50 steps: closed faces within the wall do not gather gravity."""
    bowl = Bowl.from_outlines(
        [[0.0, 0.0], [0.05, 0.0], [0.05, 0.06]], [[0.0, 0.02], [0.03, 0.02], [0.03, 0.06]], 0.2
    )
    grid = even_grid(41)
    ops, state = full_tank(grid, place_solid(grid, bowl.polygon))
    body = HeaveBody(0.2, GRAVITY, held=True)
    for _ in range(50):
        advance(state, body, 1e-3, ops)
    closed = ops.solid.area_z <= 0.0
    assert np.abs(state.u_z[closed]).max() < 1e-3, f"{np.abs(state.u_z[closed]).max():.3f} m/s"
