"""Rows of the grid close and open over the tub's floor: no water is won, no divergence is made."""

from dataclasses import replace

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from cups import ring_text
from sinkbowl.common.errors import CaseError
from sinkbowl.flow.diagnostics import centre_fields
from sinkbowl.flow.effects.floor import LEAST, REOPENED, place_floor
from sinkbowl.flow.grid import uniform_grid
from sinkbowl.flow.kernels import pressure
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import FlowState, empty_state
from sinkbowl.flow.step import advance
from sinkbowl.verification.tanks import DENSITY

CELL = 0.05
SHALLOW = f'{STEEL}tub_depth = "75 mm"\n'


def tank() -> tuple[FlowOperators, FlowState]:
    """A tank of 1 m, 20 by 20 cells, full of water in a random flow without divergence."""
    grid = uniform_grid(1.0, 0.0, 1.0, 20, 20)
    ops = make_operators(grid, place_solid(grid, None), DENSITY, with_floor=True)
    state, random = empty_state(grid), np.random.default_rng(7)
    state.u_r[1:-1] = random.normal(size=(19, 20))
    part_from_divergence(state, ops)
    state.water[:], state.extended[:], state.liquid[:] = ops.mesh_of(state).volume, 1.0, True
    return ops, state


def part_from_divergence(state: FlowState, ops: FlowOperators) -> None:
    """Give the water the u_z that its u_r asks for, from the floor upwards."""
    out = np.diff(ops.mesh_of(state).area_r * state.u_r, axis=0)
    state.u_z[:, 1:] = -np.cumsum(out, axis=1) / (ops.grid.r_c * ops.grid.dr)[:, None]


def move_floor(state: FlowState, ops: FlowOperators, height: float) -> None:
    assert ops.floor is not None
    place_floor(state, ops.floor, height, 1e4)


def divergence(state: FlowState, ops: FlowOperators) -> float:
    """Greatest net outflow of a cell, over the greatest flow through a face."""
    found, mesh = np.zeros(ops.grid.shape), ops.mesh_of(state)
    liquid = state.liquid & (mesh.volume > 0.0)
    pressure.divergence(mesh, state.u_r, state.u_z, 0.0, liquid, found)
    return float(np.abs(found).max() / np.abs(mesh.area_r * state.u_r).max())


@pytest.mark.parametrize(
    ("edge", "before", "after"), [(1.0 - LEAST, -1, 1), (1.0 - REOPENED, 1, -1)]
)
def test_a_row_closes_and_opens_without_a_trace_in_water_or_divergence(edge, before, after):
    """From first principles: both are sums, which joining and parting must keep. The floor moves by
    2e-10 of a cell, from just before a row closes, or opens, to just after it."""
    ops, state = tank()
    if before > 0:
        move_floor(state, ops, 0.7 * CELL)
    move_floor(state, ops, edge * CELL * (1.0 + 1e-10 * before))
    bottom = state.bottom
    part_from_divergence(state, ops)
    state.water[:] = ops.mesh_of(state).volume
    water, pushed = state.water.sum(), (ops.mesh_of(state).area_r * state.u_r).sum(axis=1)
    assert divergence(state, ops) < 1e-12
    move_floor(state, ops, edge * CELL * (1.0 + 1e-10 * after))
    assert state.bottom == bottom + after
    assert divergence(state, ops) < 1e-8
    assert state.water.sum() == pytest.approx(water, rel=1e-14)
    assert state.water == pytest.approx(ops.mesh_of(state).volume, rel=1e-8)
    assert (ops.mesh_of(state).area_r * state.u_r).sum(axis=1) == pytest.approx(
        pushed, rel=1e-8, abs=1e-12
    )


def test_closed_rows_hold_no_water_and_have_no_open_face():
    ops, state = tank()
    move_floor(state, ops, 4.3 * CELL)
    mesh, b = ops.mesh_of(state), state.bottom
    assert b == 4
    assert mesh.z_f[b] == pytest.approx(4.3 * CELL)
    assert np.all(np.diff(mesh.z_f) > 0.0)
    for closed in (mesh.volume[:, :b], mesh.area_r[:, :b], mesh.area_z[:, : b + 1]):
        assert not closed.any()
    assert not mesh.reach[:, b, ::3].any()
    assert mesh.volume.sum() == pytest.approx(0.5 * (1.0 - 4.3 * CELL))


def test_pressure_of_still_water_stays_hydrostatic_when_rows_change():
    """p = rho g (z_s - z) at every centre, rho g = 1e4: joining and parting are exact for it."""
    ops, state = tank()
    state.pressure[:] = 1e4 * (1.0 - ops.mesh_of(state).z_c)
    for height in (0.3 * CELL, 0.7 * CELL, 0.3 * CELL):
        lift = height - state.floor
        move_floor(state, ops, height)
        b = state.bottom
        wanted = 1e4 * (1.0 - ops.mesh_of(state).z_c[b:])
        off = state.pressure[0, b:] - wanted
        assert np.abs(off).max() <= 1e4 * 0.5 * abs(lift) * (1.0 + 1e-9)
        state.pressure[:, b:] = wanted


def test_frames_hold_the_water_over_the_floor():
    """Sum of the frame's fractions on the grid at release: all the water, to round-off."""
    sim = initialise(case_of(SHALLOW))
    start = sim.ops.grid.z_f.copy()
    whole = sim.mesh.whole.copy()
    is_open = sim.ops.solid.volume / whole
    bottoms = set()
    for _ in range(600):
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
        bottoms.add(sim.state.bottom)
        if sim.state.floor >= start[0]:
            fields = centre_fields(sim)
            told = float((fields["volume_fraction"] * is_open * whole).sum())
            assert told == pytest.approx(sim.state.water.sum(), rel=2e-6)
    assert len(bottoms) > 3, "the bowl must have sunk past some rows"


def test_the_grid_of_a_shallow_tub_ends_on_its_floor():
    case = case_of(SHALLOW)
    sim = initialise(case)
    assert sim.ops.grid.z_f[0] == sim.start_draft - 0.075
    assert initialise(case_of(STEEL)).ops.floor is None


def test_a_ring_that_reaches_below_the_floor_is_refused():
    """The least depth that is told is one that will do."""
    ring = ring_text(20, 30, -60, "8 g/cm^3")
    case = case_of(SHALLOW.replace("[flow]", f"{ring}[flow]"))
    with pytest.raises(CaseError) as caught:
        lay_out(case)
    assert caught.value.key == "flow.tub_depth"
    least = float(caught.value.allowed.split("more than ")[1].split(" mm")[0])
    lay_out(replace(case, flow=replace(case.flow, tub_depth=1.001e-3 * least)))
