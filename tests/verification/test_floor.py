"""The tub's floor: still water near it, and whole sinkings over it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from coarse_cups import STEEL, Interruption, case_of
from cups import ring_text
from sinkbowl.common import GRAVITY
from sinkbowl.files.result import Result, read_result
from sinkbowl.flow.effects.floor import make_floor
from sinkbowl.flow.state import HeaveBody
from sinkbowl.flow.step import advance
from sinkbowl.running.runner import run
from sinkbowl.verification import floor
from verification.test_still_water import SHAPES, fastest, floating


@pytest.mark.parametrize("gap", [0.0131, 0.0021])
@pytest.mark.parametrize("shape", SHAPES)
def test_still_water_stays_still_over_a_near_floor(shape, gap):
    """From first principles; the bound is that of deep water, 1e-6 of sqrt(g H)."""
    bowl = SHAPES[shape]()
    ops, state = floating(bowl, 1e-3, 0.3 * bowl.rim_height)
    ops = replace(ops, floor=make_floor(ops.mesh_of(state)))
    floor.stand(state, ops, -gap)
    assert state.bottom > 0
    body, worst = HeaveBody(bowl.mass, GRAVITY), 0.0
    while state.time < 0.2:
        advance(state, body, 1.5e-3, ops)
        worst = max(worst, fastest(state))
    bound = 1e-6 * np.sqrt(GRAVITY * bowl.rim_height)
    assert worst < bound, f"{shape}: {worst:.2e} m/s, bound {bound:.2e}"


def sunk(folder: Path, more: str, cup: str = STEEL) -> Result:
    """The coarse cup with lines added to its [flow]."""
    run(case_of(f"{cup}{more}\n"), folder / "cup.h5")
    return read_result(folder / "cup.h5")


@pytest.mark.slow
@pytest.mark.parametrize("more", ["", 'wall = "no-slip"', "surface_tension = true"])
def test_sinking_onto_the_floor_keeps_its_budgets(tmp_path, more):
    """Water to round-off, nothing through the floor; momentum as in deep tubs (soundness.py)."""
    result = sunk(tmp_path, f'tub_depth = "70 mm"\n{more}')
    h = result.history
    assert result.sinking_time is not None
    assert "on_floor" in result.events
    assert result.outcome.startswith("sinks: stands on the tub's floor")
    assert np.abs(h["volume_error"]).max() < 1e-12
    assert np.ptp(h["water_volume"]) < 1e-12 * h["water_volume"][0]
    assert np.abs(h["momentum_error"]).max() < 0.02
    assert 0.0 < 0.070 - h["draft"][-1] < 2e-3


@pytest.mark.slow
def test_bowl_that_is_stopped_by_the_floor_has_no_sinking_time(tmp_path):
    """Its ring reaches 31 mm below the base: it stands at a draft of 39 mm, the rim at 60."""
    cup = STEEL.replace("[flow]", f"{ring_text(60, 30, -28, '8 g/cm^3')}[flow]")
    result = sunk(tmp_path, 'tub_depth = "70 mm"', cup)
    case = result.case
    assert result.sinking_time is None
    assert "rim_under" not in result.events
    assert result.outcome == "stands on the tub's floor before its rim is under"
    stands_at = 0.070 + case.ballast.lowest
    assert result.history["draft"][-1] == pytest.approx(stands_at, abs=1e-3)


@pytest.mark.slow
def test_broken_off_over_a_floor_it_goes_on_to_the_same_numbers(tmp_path):
    """Rows that were closed before the break stay closed after it."""
    whole = sunk(tmp_path, 'tub_depth = "70 mm"').history
    path, case = tmp_path / "again.h5", case_of(f'{STEEL}tub_depth = "70 mm"\n')
    run(case, path, progress=Interruption(0.4, KeyboardInterrupt()), checkpoint_every=0.1)
    run(case, path, resume=True)
    history = read_result(path).history
    for name in ("draft", "inner_volume", "kinetic_energy", "outer_level"):
        assert np.array_equal(history[name], whole[name]), name
