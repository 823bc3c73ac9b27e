"""Which object holds which array: grid and solid never change; what is inside the bowl."""

import inspect
import re
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from flow_bodies import slanted_tank
from sinkbowl.case.case import Case, load_case, parse_case
from sinkbowl.case.starter import shipped_cases
from sinkbowl.files.record import HISTORY
from sinkbowl.flow import step
from sinkbowl.flow.diagnostics import UNSEEN
from sinkbowl.flow.effects import Exchange, Force
from sinkbowl.flow.effects.beach import Beach
from sinkbowl.flow.effects.friction import Friction
from sinkbowl.flow.effects.tension import Tension
from sinkbowl.flow.grid import Array, Grid, uniform_grid
from sinkbowl.flow.kernels import Mesh
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.operators import make_operators
from sinkbowl.flow.poisson import TOLERANCE, pressure_solver
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.solid import LEAST_OPEN, Solid, closed, inside_cells, place_solid
from sinkbowl.flow.state import FlowState, make_mesh
from sinkbowl.flow.step import advance

ROOT = Path(__file__).parents[2]
SHALLOW = f'{STEEL}tub_depth = "75 mm"\n'


def arrays(grid: Grid, solid: Solid) -> dict[str, Array]:
    """All arrays of both."""
    of_grid = {name: getattr(grid, name) for name in ("r_f", "z_f", "r_c", "z_c", "dr", "dz")}
    return of_grid | {part.name: getattr(solid, part.name) for part in fields(solid)}


def test_arrays_of_grid_and_solid_refuse_writing():
    """numpy's own flag, also after faces were closed besides."""
    grid, solid = slanted_tank()
    shut = closed(grid, solid, cells=~solid.open_cells)
    for found in (arrays(grid, solid), arrays(grid, shut)):
        for name, array in found.items():
            with pytest.raises(ValueError, match="read-only"):
                array[...] = 0
            assert not array.flags.writeable, name


def test_a_grid_leaves_the_lines_that_it_is_made_of_alone():
    """They may be changed afterwards, and it is not."""
    lines = np.linspace(0.0, 1.0, 5)
    grid = Grid(lines, lines)
    lines[:] = 7.0
    assert grid.r_f.tolist() == uniform_grid(1.0, 0.0, 1.0, 4, 4).r_f.tolist()


def test_the_mesh_shares_no_array_with_grid_and_solid():
    """Nor any part of one."""
    grid, solid = slanted_tank()
    for name, own in make_mesh(grid, solid)._asdict().items():
        assert own.flags.writeable, name
        for other, array in arrays(grid, solid).items():
            assert not np.shares_memory(own, array), (name, other)


@pytest.mark.parametrize("tension", ["false", "true"])
def test_the_floor_leaves_grid_and_solid_untouched(tension):
    """Until rows have closed under the bowl, with and without a lid on its hole."""
    sim = initialise(case_of(f"{SHALLOW}surface_tension = {tension}\n"))
    before = {name: a.copy() for name, a in arrays(sim.ops.grid, sim.ops.solid).items()}
    while sim.state.bottom < 2:
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
    after = arrays(sim.ops.grid, sim.ops.solid)
    assert all(np.array_equal(after[name], array) for name, array in before.items())
    assert sim.mesh.z_f[sim.state.bottom] == sim.state.floor
    assert not sim.mesh.volume[:, : sim.state.bottom].any()


def test_the_mesh_follows_the_state_whoever_moves_the_floor():
    """Nobody has to remember it: a state put back, as from a checkpoint, has its own rows again."""
    sim = initialise(case_of(SHALLOW))
    first = {name: array.copy() for name, array in sim.mesh._asdict().items()}
    start = sim.state.floor, sim.state.bottom
    while sim.state.bottom < 2:
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
    assert not np.array_equal(sim.mesh.z_f, first["z_f"])
    sim.state.floor, sim.state.bottom = start
    now = sim.mesh._asdict()
    assert all(np.array_equal(now[name], array) for name, array in first.items())


class Drag(Force):
    """A force that takes a share of the velocity off and gives the bowl a known push."""

    column = "viscous_force"

    def act(self, state: FlowState, mesh: Mesh, stride: float) -> Exchange:
        state.u_r *= 0.5
        return Exchange(on_bowl=3.0, impulse=2.0, energy=1.0)

    def longest_step(self, state: FlowState, mesh: Mesh) -> float:
        return 1e-5


def test_the_pressure_solve_has_one_tolerance():
    """Wherever nobody asks for another."""
    grid, solid = slanted_tank()
    assert make_operators(grid, solid, 1000.0).solver.tolerance == TOLERANCE
    assert pressure_solver(grid.shape).tolerance == TOLERANCE
    assert initialise(case_of(STEEL)).ops.solver.tolerance == TOLERANCE


def test_the_algorithm_names_the_steps_of_the_code_in_their_order():
    """The first column of its table in solver/FLOW.md; DEVELOPERS.md names the same."""
    table = (ROOT / "solver/FLOW.md").read_text().split("| step (`flow/step.py`)")[1]
    named = re.findall(r"^\| `([\w.]+)`", table.split("\n\n")[0], re.MULTILINE)
    forces = [name for name in named if name.endswith(".act")]
    columns = {Friction.column, Tension.column}
    assert columns < set(UNSEEN) < set(HISTORY)
    assert forces == [f"{kind.__name__}.act" for kind in (Friction, Beach, Tension)]
    code = inspect.getsource(advance)
    steps = [name for name in named if name not in forces]
    assert all(hasattr(step, name) for name in steps)
    called = [name for name in steps if f"{name}(" in code]
    assert called == sorted(called, key=code.index)
    assert set(steps) - set(called) == {"place_floor"}
    told = (ROOT / "DEVELOPERS.md").read_text().split("## The step")[1].split("\n## ")[0]
    assert all(f"`{name}" in told for name in called)


def test_a_force_needs_nothing_but_its_own_file():
    """The step calls whatever forces there are, books what they exchange, and keeps their limit."""
    sim = initialise(case_of(f'{STEEL}wall = "slip"\n'))
    assert sim.ops.forces == ()
    free = sim.time_step()
    sim.ops = replace(sim.ops, forces=(Drag(), Drag()))
    assert sim.time_step() == 1e-5 < free
    report = advance(sim.state, sim.body(), 1e-5, sim.ops)
    assert report.unseen["viscous_force"] == 6.0
    assert (report.impulse, report.energy) == (4.0, 2.0)


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
    Slivers below 2 % of a cell are closed, never opened."""
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
