"""The gate in the hole: a plugged bowl floats on, a push or enough weight starts it."""

import numpy as np
import pytest

from cups import cup
from sinkbowl.case.case import Case
from sinkbowl.files.result import read_result
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.step import advance
from sinkbowl.running.runner import run
from sinkbowl.statics.capillarity import hole_gate

FLOW = """
[flow]
cell = "3 mm"
base_cell = "3 mm"
tub_radius = "70 mm"
surface_tension = true
"""


def small_cup(mass: float, start: str = "") -> Case:
    sizes = {"radius": 30, "height": 30, "wall": 3, "base": 3}
    return cup(6, mass=mass, more=FLOW + start, **sizes)


def pushed_cup(share: float) -> Case:
    """A plugged cup pushed with a share of the impulse that the gate asks for."""
    push = share * hole_gate(small_cup(16.0)).push_impulse
    return small_cup(16.0, f'[start]\nkind = "push"\npush = "{push:.6f} N s"\n')


@pytest.mark.slow
def test_plugged_bowl_floats_on_dry_and_the_run_says_so(tmp_path):
    """Breakthrough head above the head at its dry draft (Young-Laplace): no water comes in."""
    case = small_cup(16.0)
    assert hole_gate(case).plugged
    outcome = run(case, tmp_path / "cup.h5")
    result = read_result(tmp_path / "cup.h5")
    assert outcome.outcome.startswith("plugged")
    assert outcome.sinking_time is None
    assert "gate_open" not in result.events
    assert result.history["inner_volume"].max() == 0.0
    assert np.abs(result.history["volume_error"]).max() < 1e-12
    assert any("meniscus in the dry hole" in note for note in outcome.notes)


@pytest.mark.parametrize(("share", "opens"), [(0.7, False), (1.5, True)])
def test_push_opens_the_gate_or_does_not(share, opens):
    """The static impulse is good to some tens of per cent in moving water (common practice)."""
    sim = initialise(pushed_cup(share))
    opened = False
    while sim.state.time < 0.12 and not opened:
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
        opened = sim.try_gate()
    assert opened == opens
    if opens:
        before = sim.inner_volume()
        for _ in range(20):
            advance(sim.state, sim.body(), sim.time_step(), sim.ops)
        assert sim.inner_volume() > before


def test_heavy_bowl_has_no_gate_to_open():
    """60 g give the hole of 6 mm more head than it holds: it starts by itself."""
    case = small_cup(60.0)
    assert not hole_gate(case).plugged
    sim = initialise(case)
    assert sim.gate is None
    for _ in range(20):
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
    assert sim.inner_volume() > 0.0


def test_lidded_bowl_at_rest_keeps_its_archimedes_draft():
    """The lid carries the water's pressure to the bowl: a dry bowl displaces its mass. Only the
    meniscus at its outer wall pulls it down, by 2 pi R sigma cos(angle): no more than that over rho
    g A, plus what it swings beyond, twice that."""
    case = small_cup(16.0)
    sim = initialise(case)
    start = sim.draft
    area, water = np.pi * 0.03**2, case.water
    line = 2.0 * np.pi * 0.03 * water.surface_tension * np.cos(case.contact_angle)
    while sim.state.time < 0.15:
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
        sunk = sim.draft - start
        assert -0.2 < sunk * water.density * 9.80665 * area / line < 2.2
