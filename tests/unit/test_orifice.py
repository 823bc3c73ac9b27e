"""The hole: its place on the grid; closed where the grid does not resolve it, its terms."""

from dataclasses import fields, replace

import numpy as np
import pytest

from flow_bodies import even_grid
from sinkbowl.bowl.bowl import first_crossing
from sinkbowl.case.case import Case, load_case
from sinkbowl.case.starter import shipped_case, shipped_cases
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError
from sinkbowl.flow.effects.orifice_model import (
    Orifice,
    contraction,
    feel_back_pressure,
    hole_step,
    narrowed,
)
from sinkbowl.flow.layout import lay_out, layer_thickness
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.flow.solid import Solid, closed, place_solid
from sinkbowl.verification.tanks import sphere
from thick_walled_cup import thick_walled_cup


def cup(hole: str = "20 mm", more: str = "") -> Case:
    return thick_walled_cup(hole, "4 mm", more)


def afloat(case: Case) -> tuple[Simulation, Orifice]:
    sim = initialise(case)
    assert sim.ops.hole is not None
    return sim, sim.ops.hole


@pytest.mark.parametrize(
    ("hole", "more", "closed"),
    [
        ("31.9 mm", "", True),
        ("32 mm", "", False),
        ("32 mm", 'hole = "closed"', True),
        ("20 mm", 'hole = "resolved"', False),
        ("20 mm", 'hole = "auto"', True),
    ],
)
def test_hole_of_less_than_eight_cells_is_closed_unless_the_case_says_otherwise(hole, more, closed):
    """Design rule: 8 cells of 4 mm."""
    assert lay_out(cup(hole, more)).closed is closed


def test_closed_hole_on_the_grid_is_as_wide_as_the_contracted_jet():
    """C_d = C_c for a sharp thin hole: 0.61 of its area, times the base's effect of (b/R)^2."""
    case = cup()
    layout, share = lay_out(case), contraction(case)
    grid, solid = layout.grid, place_solid(layout.grid, layout.bowl.polygon)
    within = grid.r_c < layout.bowl.hole_radius
    for height in (0.0, case.bowl.inner_edge_height):
        j = int(np.argmin(np.abs(grid.z_f - height)))
        area = 2.0 * np.pi * solid.area_z[within, j].sum()
        assert area == pytest.approx(share * case.hole.area, rel=1e-12)
    assert share == pytest.approx(0.5 + 0.11 * np.sqrt(1.0 - 0.2**2), rel=1e-12)
    assert np.array_equal(layout.bowl.outer[1:], case.bowl.outer)
    assert np.array_equal(layout.bowl.inner[1:], case.bowl.inner)


def test_rounded_hole_is_not_narrowed():
    """Its jet fills it: no contraction, all of the coefficient is loss."""
    case = load_case(shipped_case("brass-cap"))
    layout = lay_out(case)
    assert layout.closed
    assert layout.bowl is case.bowl
    assert narrowed(case.bowl, 1.0) is case.bowl


@pytest.mark.parametrize(
    ("hole", "more", "says"),
    [
        ("60 mm", 'hole = "closed"', r"flow\.hole.*50 mm"),
        ("1.9 mm", "", r"flow\.cell"),
        ("20 mm", 'hole = "open"', r"flow\.hole"),
    ],
)
def test_what_cannot_be_closed_or_is_no_treatment_is_refused(hole, more, says):
    """A hole of at most half the rim and at least half a cell; with the key and what to give."""
    with pytest.raises(CaseError, match=says):
        lay_out(cup(hole, more))
    assert lay_out(cup("2.1 mm")).closed


def test_notes_and_treatment_tell_of_the_closed_hole():
    sim, _ = afloat(cup())
    assert sim.hole_treatment == "closed"
    assert "5.0 cells across" in sim.notes()[0]
    assert "given in the case" in sim.notes()[0]
    assert initialise(cup("40 mm")).hole_treatment == "resolved"
    resolved = initialise(cup("40 mm"))
    cells = layer_thickness(resolved.case) / 4e-3
    assert f"layer on the base has {cells:.2g} cells of 4 mm" in resolved.notes()[0]


@pytest.mark.parametrize("speed", [0.5, -0.5])
def test_loss_over_the_hole_is_the_law_s_energy(speed):
    """k sum(d) w = v_jet^2 / 2 for a lossless jet; of the flow's sign."""
    _, hole = afloat(cup())
    energy = hole.loss_rate(speed, 0.0) * float(hole.gaps.sum()) * speed
    wanted = 0.5 * speed * abs(speed)
    # Outflow is contracted to C itself, inflow a little more, as the grid's hole is.
    ratio = 1.0 if speed > 0.0 else (contraction(cup()) / 0.61) ** 2
    assert energy == pytest.approx(ratio * wanted, rel=1e-9)


@pytest.mark.parametrize("speed", [0.5, -0.5])
def test_bowl_takes_the_opposite_of_loss_and_jet(speed):
    """Steady flow: F = rho a_c (e - v|v|), the momentum theorem for the two zones."""
    sim, hole = afloat(cup())
    state = sim.state
    state.liquid[:] = True
    state.u_z[: hole.rows, hole.levels] = speed
    state.u_z_old[:] = state.u_z
    state.stride = 1e-3
    step = hole_step(hole, state, 1e-3)
    energy = hole.loss_rate(speed, 0.0) * float(hole.gaps.sum()) * speed
    assert step.force == pytest.approx(
        hole.density * hole.area * (energy - speed * abs(speed)), rel=1e-9
    )
    assert (step.still is hole.below) == (speed > 0.0)


def test_dry_hole_brakes_nothing():
    """Before water stands on both sides of its faces the closure does not act."""
    sim, hole = afloat(cup())
    step = hole_step(hole, sim.state, 1e-3)
    assert not step.wet.any()
    assert np.all(step.mobility == 1.0)
    assert step.force == 0.0


def test_back_pressure_follows_the_exit_with_its_memory():
    """1 - exp(-1) of a constant excess after one memory, to first order in the step."""
    sim, hole = afloat(cup())
    state, level = sim.state, 0.030
    state.liquid[:] = True
    state.u_z[: hole.rows, hole.levels] = 0.5
    depth = np.maximum(level - sim.ops.grid.z_c, 0.0)
    state.pressure[:] = hole.density * GRAVITY * depth + 40.0
    for _ in range(1000):
        feel_back_pressure(hole, state, level, hole.memory / 1000.0)
    assert state.back_pressure == pytest.approx(40.0 * (1.0 - np.exp(-1.0)), rel=1e-3)
    state.u_z[: hole.rows, hole.levels] = -0.5
    feel_back_pressure(hole, state, level, hole.memory)
    assert state.back_pressure == 0.0


def test_closed_case_keeps_the_displacement_of_the_real_bowl():
    """The lip's lift is taken off: weight of the water that it keeps out of the hole."""
    sim, hole = afloat(cup())
    sim.state.water[:] = sim.ops.solid.volume
    lip = (sim.case.hole.area - hole.area) * 0.004
    lift = sim.body().extra_lift
    assert lift == pytest.approx(-hole.density * GRAVITY * lip, rel=1e-6)


def test_a_finer_grid_has_the_same_hole():
    """The area on the grid does not depend on the cells."""
    areas = []
    for cell in (4e-3, 3e-3):
        case = cup()
        _, hole = afloat(replace(case, flow=replace(case.flow, cell=cell, base_cell=cell)))
        areas.append(hole.area)
    assert areas[0] == pytest.approx(areas[1], rel=1e-12)


@pytest.mark.parametrize("cell", [3e-3, 4e-3])
@pytest.mark.parametrize("name", ["beech-dish-brass-ring", "lily-bowl"])
def test_lip_and_thickened_wall_go_together(name, cell):
    """Both changes to the outline at once: a simple section whose hole is the jet's width."""
    case = load_case(shipped_case(name))
    case = replace(case, flow=replace(case.flow, cell=cell, base_cell=cell))
    layout = lay_out(case)
    assert layout.closed
    assert layout.thickened > 0.0
    assert first_crossing(layout.bowl.polygon, closed=True) is None
    solid = place_solid(layout.grid, layout.bowl.polygon)
    within = layout.grid.r_c < layout.bowl.hole_radius
    j = int(np.argmin(np.abs(layout.grid.z_f)))
    area = 2.0 * np.pi * solid.area_z[within, j].sum()
    assert area == pytest.approx(contraction(case) * case.hole.area, rel=1e-12)


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
    within half a cell of a line."""
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
