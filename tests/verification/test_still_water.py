"""Still water stays still beside every bowl shape, and a closed bowl floats where Archimedes says.

Targets from first principles: a fluid at rest under gravity has no motion at all, so every speed is
spurious. The bound is 1e-6 of sqrt(g H), H the bowl's height.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case, load_case
from sinkbowl.case.parts import Start
from sinkbowl.case.starter import shipped_case
from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.flow.solid import closed, inside_cells, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import advance
from sinkbowl.verification.tanks import DENSITY


def cup() -> Bowl:
    """Straight cup, R 50, H 60, wall and base 2 mm."""
    outer = [[0.0, 0.0], [0.05, 0.0], [0.05, 0.06]]
    return Bowl.from_outlines(outer, [[0.0, 0.002], [0.048, 0.002], [0.048, 0.06]], 0.2)


def cone() -> Bowl:
    """Conical dish with a flat base, slanted wall 3.4 mm thick."""
    outer = [[0.0, 0.0], [0.02, 0.0], [0.05, 0.05]]
    return Bowl.from_outlines(outer, [[0.0, 0.003], [0.018, 0.003], [0.046, 0.05]], 0.09)


def cap() -> Bowl:
    """Spherical cap, R 50, H 40, wall 3 mm."""
    sphere, height = 0.05125, 0.04
    angle = np.linspace(0.0, np.arccos((sphere - height) / sphere), 200)
    inner_angle = np.linspace(0.0, np.arccos((sphere - height) / (sphere - 0.003)), 200)
    shell = [
        np.column_stack((size * np.sin(a), sphere - size * np.cos(a)))
        for size, a in ((sphere, angle), (sphere - 0.003, inner_angle))
    ]
    return Bowl.from_outlines(shell[0], shell[1], 0.1)


def tulip() -> Bowl:
    """A free profile with a belly and a lip that leans out."""
    outer = [[0.0, 0.0], [0.03, 0.002], [0.045, 0.015], [0.042, 0.03], [0.048, 0.05]]
    inner = [[0.0, 0.004], [0.028, 0.006], [0.0405, 0.0165], [0.0375, 0.03], [0.0437, 0.05]]
    return Bowl.from_outlines(outer, inner, 0.11)


SHAPES = {"cup": cup, "cone": cone, "cap": cap, "profile": tulip}


def floating(bowl: Bowl, cell: float, inner_level: float | None) -> tuple[FlowOperators, FlowState]:
    """A closed bowl at its Archimedes draft, water inside up to `inner_level` (None: dry)."""
    held = float(bowl.inner_volume(inner_level)) if inner_level is not None else 0.0
    wanted = bowl.mass / DENSITY + held
    draft = brentq(lambda z: float(bowl.outer_volume(z)) - wanted, 0.0, bowl.rim_height)
    widest = float(bowl.outer[:, 0].max())
    r_f = lay_lines([0.0, *bowl.straight_r[1:], widest, 0.12], [Spacing(cell, 0.0, widest)])
    rim = bowl.rim_height
    z_f = lay_lines([-0.1, *bowl.straight_z, rim + 0.03], [Spacing(cell, -0.005, rim)])
    grid = Grid(np.unique(r_f), np.unique(z_f))
    solid = place_solid(grid, bowl.polygon)
    ops, state = make_operators(grid, solid, DENSITY, 1e-9), empty_state(grid)
    inside = inside_cells(grid, solid, rim)
    fill_to(state, ops, draft, ~inside)
    if inner_level is not None:
        fill_to(state, ops, inner_level, inside)
    complete_state(state, ops)
    return ops, state


def fastest(state: FlowState) -> float:
    """Greatest speed on faces that touch water [m/s]."""
    u_r = np.abs(np.where(state.known_r == 0, state.u_r, 0.0)).max()
    u_z = np.abs(np.where(state.known_z == 0, state.u_z, 0.0)).max()
    return float(max(u_r, u_z, abs(state.speed)))


def sharp(name: str) -> Case:
    """A shipped bowl with a sharp hole of 20 mm and cells of 2 mm, set down."""
    case = load_case(shipped_case(name)).with_hole(0.020)
    return replace(
        case,
        finish=replace(case.finish, edge="sharp"),
        flow=replace(case.flow, cell=2e-3, base_cell=2e-3, hole="resolved"),
        start=Start("set down", 0.0, 0.0),
    )


def plugged(case: Case, inner_level: float | None) -> Simulation:
    """A bowl at rest with a lid in its hole, water inside up to `inner_level` (None: dry)."""
    sim, density = initialise(case), case.water.density
    held = float(case.bowl.inner_volume(inner_level)) if inner_level is not None else 0.0
    wanted = case.total_mass / density + held
    draft = brentq(lambda z: float(case.bowl.outer_volume(z)) - wanted, 0.0, case.bowl.rim_height)
    grid, solid = sim.ops.grid, sim.ops.solid
    shut = closed(grid, solid, z_faces=sim.layout.hole.lid(grid))
    sim.ops = make_operators(grid, shut, density, 1e-9)
    sim.state, sim.start_draft = empty_state(grid), draft
    fill_to(sim.state, sim.ops, draft, ~sim.inside)
    if inner_level is not None:
        fill_to(sim.state, sim.ops, inner_level, sim.inside)
    complete_state(sim.state, sim.ops)
    return sim


@pytest.mark.parametrize("cell", [2e-3, 1e-3])
@pytest.mark.parametrize("shape", SHAPES)
def test_still_water_stays_still_and_the_draft_stays(shape, cell):
    """0.3 s of stillness, at two cell sizes: both far below the bound, at solver tolerance."""
    bowl = SHAPES[shape]()
    ops, state = floating(bowl, cell, None)
    body = HeaveBody(bowl.mass, GRAVITY)
    worst = 0.0
    while state.time < 0.3:
        advance(state, body, 1.5e-3, ops)
        worst = max(worst, fastest(state))
    bound = 1e-6 * np.sqrt(GRAVITY * bowl.rim_height)
    assert worst < bound, f"{shape}, {cell} m: {worst:.2e} m/s, bound {bound:.2e}"
    assert abs(state.height) < 1e-7, f"moved by {state.height:.2e} m"


@pytest.mark.parametrize("shape", SHAPES)
def test_still_water_inside_the_bowl_stays_still_too(shape):
    """The same with water inside, so that both sides of the wall and both levels count."""
    bowl = SHAPES[shape]()
    ops, state = floating(bowl, 1e-3, 0.3 * bowl.rim_height)
    body = HeaveBody(bowl.mass, GRAVITY)
    worst = 0.0
    while state.time < 0.2:
        advance(state, body, 1.5e-3, ops)
        worst = max(worst, fastest(state))
    bound = 1e-6 * np.sqrt(GRAVITY * bowl.rim_height)
    assert worst < bound, f"{shape}: {worst:.2e} m/s, bound {bound:.2e}"


@pytest.mark.parametrize("shape", ["cup", "cap"])
def test_closed_bowl_heaves_about_its_archimedes_draft(shape):
    """Set down 2 mm too deep it heaves, and the mean over whole periods is Archimedes' draft.
    Nothing but the wave it sends out damps it, so the middle of successive turning points is taken.
    3 % of the 2 mm allows for the damping between two turning points."""
    bowl = SHAPES[shape]()
    ops, state = floating(bowl, 1.5e-3, None)
    state.height = 0.0
    body = HeaveBody(bowl.mass, GRAVITY)
    push = HeaveBody(bowl.mass, GRAVITY, extra_lift=-0.3)
    while state.time < 0.05:
        advance(state, push, 1e-3, ops)
    heights, times = [], []
    while state.time < 1.2:
        advance(state, body, 1e-3, ops)
        heights.append(state.height)
        times.append(state.time)
    h = np.array(heights)
    turns = np.flatnonzero((h[1:-1] - h[:-2]) * (h[2:] - h[1:-1]) <= 0.0) + 1
    assert len(turns) >= 4, f"only {len(turns)} turning points"
    swing = np.ptp(h)
    a = h[turns]
    middle = 0.25 * a[:-2] + 0.5 * a[1:-1] + 0.25 * a[2:]
    assert abs(middle[-1]) < 0.03 * swing, f"{shape}: mean {middle}, swing {swing:.2e} m"


def test_a_bowl_far_lighter_than_its_added_mass_does_not_blow_up():
    """A cup of 5 g has a tenth of its added mass; staggered coupling is unstable there."""
    bowl = Bowl.from_outlines(cup().outer, cup().inner, 0.005)
    ops, state = floating(bowl, 2e-3, None)
    body = HeaveBody(bowl.mass, GRAVITY)
    state.speed = -0.02
    while state.time < 0.3:
        advance(state, body, 1e-3, ops)
    assert fastest(state) < 0.05, f"{fastest(state):.3g} m/s"


@pytest.mark.parametrize(
    ("name", "level"),
    [("steel-cup", None), ("steel-cup", 0.015), ("brass-cap", None), ("brass-cap", 0.004)],
)
def test_a_plugged_bowl_is_tight_at_its_lip_and_keeps_its_draft(name, level):
    """A lid in the hole of a level base (cup) and of a curved one (cap). Targets from first
    principles: not a drop passes a wall, still water is still, and the draft is Archimedes' of the
    bowl as it is, not of the one on the grid."""
    sim = plugged(sharp(name), level)
    held, worst = sim.inner_volume(), 0.0
    while sim.state.time < 0.15:
        advance(sim.state, sim.body(), 1.5e-3, sim.ops)
        worst = max(worst, fastest(sim.state))
    bound = 1e-6 * np.sqrt(GRAVITY * sim.case.bowl.rim_height)
    print(f"{name}: {worst:.2e} m/s, {sim.state.height:.2e} m, {sim.inner_volume() - held:.1e}")
    assert sim.inner_volume() == pytest.approx(held, rel=1e-12)
    assert worst < bound, f"{name}: {worst:.2e} m/s, bound {bound:.2e}"
    assert abs(sim.state.height) < 1e-7, f"moved by {sim.state.height:.2e} m"
