"""Stages of the water in a bowl, and the readings of it against hydrostatics and momentum."""

import math

import numpy as np
import pytest

import cups
from coarse_cups import STEEL, case_of
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.files.record import ADDED
from sinkbowl.files.result import read_result
from sinkbowl.flow.diagnostics import make_diagnostics, open_budget
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import initialise
from sinkbowl.reduced import heave
from sinkbowl.reduced.stages import MEAN_OVER, Stages, stages_of_flow, stages_of_heave
from sinkbowl.running.numerical_checks import guarded_step, next_step
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.exporting.export import export_history
from synthetic import edited, write_result

LANDED, WET, PER_SECOND = 0.15, 0.25, 2e-4
"""When the water of the made-up history lands and runs in [s], and how fast it comes [m^3/s]."""
CASE = case_of(STEEL)


def cup(scale: float = 1.0) -> Case:
    """The steel cup with a 40 mm hole and a constant coefficient, its lengths times a scale."""
    sizes = {"radius": 50 * scale, "height": 60 * scale, "wall": 2 * scale, "base": 2 * scale}
    more = "discharge_coefficient = 0.61"
    return cups.cup(40 * scale, mass=200 * scale**3, more=more, **sizes)


def history(case: Case, air: float = 0.0) -> dict[str, np.ndarray]:
    """Water that floats freely until it lands, then rests; its pressure comes to the foot later."""
    t = np.linspace(0.0, 0.4, 4001)
    weight = case.water.density * GRAVITY
    volume = PER_SECOND * t
    level = volume / (math.pi * 0.048**2)
    push = np.where(t >= LANDED, weight * volume, 0.0) - weight * volume
    momentum = np.concatenate(([0.0], np.cumsum(0.5 * (push[1:] + push[:-1]) * np.diff(t))))
    return {
        "t": t,
        "inner_volume": volume,
        "inner_level": level,
        "hole_thrust": np.zeros_like(t),
        "inner_momentum": momentum,
        "foot_pressure": np.where(t >= WET, weight * level, 0.0) + air,
        "pocket_pressure": np.full_like(t, air),
    }


@pytest.mark.parametrize("air", [0.0, 200.0])
def test_the_flows_stages_are_those_of_a_history_that_was_made_with_them(air):
    """Air that presses on the foot is no water there."""
    case = cup()
    found = stages_of_flow(case, history(case, air))
    half = 0.5 * MEAN_OVER * math.sqrt(case.bowl.rim_radius / GRAVITY)
    assert found.landed == pytest.approx(LANDED, abs=half)
    assert found.submerged == pytest.approx(WET, abs=half)


def test_water_that_never_lands_has_one_stage():
    case = cup()
    told = history(case)
    push = -case.water.density * GRAVITY * told["inner_volume"]
    fall = np.cumsum(push * (told["t"][1] - told["t"][0]))
    assert stages_of_flow(case, {**told, "inner_momentum": fall}) == Stages(None, None)


def test_a_history_without_the_readings_tells_none():
    case = cup()
    told = history(case)
    del told["foot_pressure"]
    assert stages_of_flow(case, told) is None


def test_the_heave_models_stages_come_one_after_the_other():
    case = cup()
    sinking = heave.solve(case)
    found = stages_of_heave(case, sinking)
    assert 0.0 < found.landed < found.submerged < sinking.sinking_time


def test_stages_of_a_bowl_four_times_as_large_take_twice_as_long():
    """Froude's similarity, exact without viscosity (HEAVE.md, section 6)."""
    small, large = (stages_of_heave(case, heave.solve(case)) for case in (cup(), cup(4.0)))
    for one, other in zip(small, large, strict=True):
        assert other == pytest.approx(2.0 * (one or 0.0), rel=5e-3)


def test_still_water_presses_with_its_depth_and_thrusts_with_nothing_else():
    """Hydrostatics: rho g h beside the hole, and h a rho g through it."""
    sim = initialise(CASE)
    level = 0.041
    fill_to(sim.state, sim.ops, level, np.ones_like(sim.inside))
    complete_state(sim.state, sim.ops)
    row = make_diagnostics(sim).inner_row(sim)
    depth = level - CASE.bowl.inner_edge_height
    pressure = CASE.water.density * GRAVITY * depth
    assert row["foot_pressure"] == pytest.approx(pressure, rel=1e-9)
    assert row["hole_thrust"] == pytest.approx(pressure * CASE.hole.area, rel=1e-6)
    assert row["inner_momentum"] == 0.0
    assert row["aloft_volume"] == 0.0


def test_momentum_of_the_inner_water_is_the_motion_of_its_centre():
    """From first principles: P + rho V_in V = rho d/dt of the first moment above the hole's edge.
    Through the hole's outer edge water comes in at height 0 and brings no moment. Over 60 steps the
    two agree to 3 %, the splitting error of coarse cells (4 mm)."""
    sim = initialise(CASE)
    diagnostics, budget = make_diagnostics(sim), open_budget(sim)
    density, heights = CASE.water.density, sim.ops.grid.z_c - CASE.bowl.outer_edge_height
    within = diagnostics.within
    rows, moments = [], []
    for _ in range(120):
        dt, body = next_step(sim), sim.body()
        report = guarded_step(sim, body, dt)
        rows.append(diagnostics.row(sim, budget, report, dt))
        water = 2.0 * np.pi * np.where(within, sim.state.water, 0.0)
        moments.append(density * float(np.sum(water * heights)))
    t = np.array([row["t"] for row in rows])
    moved = [
        row["inner_momentum"] + density * (row["inner_volume"] + row["aloft_volume"]) * row["speed"]
        for row in rows
    ]
    late = slice(60, None)
    impulse = float(np.trapezoid(np.array(moved)[late], t[late]))
    gained = moments[-1] - moments[60]
    assert impulse == pytest.approx(gained, rel=0.03), f"{impulse / gained - 1.0:+.4f}"


def test_an_older_file_is_compared_with_its_forces_unsplit(tmp_path):
    path = write_result(tmp_path / "old.h5")
    with edited(path) as file:
        for name in ADDED:
            del file[f"history/{name}"]
    result = read_result(path)
    assert not ADDED & set(result.history)
    record = compare(result).record
    assert dict(record.readings) == {}
    assert export_history(result, tmp_path / "old.csv") == len(result.history["t"])
