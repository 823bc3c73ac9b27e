"""Readings of the water inside the bowl: against hydrostatics and the momentum of moving mass."""

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from sinkbowl.common.constants import GRAVITY
from sinkbowl.files.record import ADDED
from sinkbowl.files.result import read_result
from sinkbowl.flow.diagnostics import make_diagnostics, make_inner_diagnostics, open_budget
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import initialise
from sinkbowl.running.numerical_checks import guarded_step, next_step
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.exporting.export import export_history
from synthetic import edited, write_result

CASE = case_of(STEEL)


def test_still_water_presses_with_its_depth_and_thrusts_with_nothing_else():
    """Hydrostatics: rho g h beside the hole, and h a rho g through it."""
    sim = initialise(CASE)
    level = 0.041
    fill_to(sim.state, sim.ops, level, np.ones_like(sim.inside))
    complete_state(sim.state, sim.ops)
    row = make_inner_diagnostics(sim).row(sim)
    depth = level - CASE.bowl.inner_edge_height
    pressure = CASE.water.density * GRAVITY * depth
    assert row["foot_pressure"] == pytest.approx(pressure, rel=1e-9)
    assert row["hole_thrust"] == pytest.approx(pressure * CASE.hole.area, rel=1e-6)
    assert row["inner_momentum"] == 0.0
    assert row["aloft_volume"] == 0.0


def test_momentum_of_the_inner_water_is_the_motion_of_its_centre():
    """From first principles: P + rho V_in V = rho d/dt of the first moment above the hole's edge.

    Through the hole's outer edge water comes in at height 0 and brings no moment. Over 60 steps the
    two agree to 3 %, the splitting error of coarse cells (4 mm).
    """
    sim = initialise(CASE)
    diagnostics, budget = make_diagnostics(sim), open_budget(sim)
    density, heights = CASE.water.density, sim.ops.grid.z_c - CASE.bowl.outer_edge_height
    within = diagnostics.inner.within
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
