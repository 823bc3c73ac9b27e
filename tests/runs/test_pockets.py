"""Closed-off air in whole sinkings: none is lost or made, and a break changes nothing."""

import h5py
import numpy as np
import pytest

from coarse_cups import STEEL, Interruption, case_of
from faults.killed_runs import differences
from sinkbowl.flow.effects.pockets import ClosedAir
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.step import advance
from sinkbowl.running import runner
from sinkbowl.running.runner import run

pytestmark = pytest.mark.slow

UNTIL = 0.4  # time up to which the coarse cup with 40 mm is followed [s]: its ring closes at 0.2 s


def test_no_air_is_lost_or_made():
    """What pockets took and gave back is what they hold, to 1e-9 in every step (by definition)."""
    sim = initialise(case_of(STEEL))
    balance, most, pressed = 0.0, 0.0, 0.0
    while sim.state.time < UNTIL:
        air: ClosedAir = advance(sim.state, sim.body(), sim.time_step(), sim.ops).air
        balance += air.closed - air.vented
        most = max(most, balance)
        pressed = max(pressed, *np.abs(air.pressure), 0.0)
        assert abs(balance - air.air.sum()) <= 1e-9 * most
    assert 2.0 * np.pi * most > 1e-5, "a ring of air was closed off"
    assert pressed > 10.0, "and pressed"


def test_a_run_broken_off_with_pockets_goes_on_to_the_same_bits(tmp_path, monkeypatch):
    monkeypatch.setattr(runner, "CHECKPOINT_SHARE", 20.0)
    monkeypatch.setattr(runner, "PROGRESS_EVERY", 0.0)
    case = case_of(STEEL)
    run(case, tmp_path / "whole.h5", frame_interval=0.02)
    with h5py.File(tmp_path / "whole.h5") as file:
        held = np.concatenate(([False], file["history/pocket_air"][:] > 0.0, [False]))
        ends = np.flatnonzero(np.diff(held)).reshape(-1, 2)  # of each time that one is held
        first, last = ends[np.argmax(ends[:, 1] - ends[:, 0])]
        middle = float(file["history/t"][(first + last) // 2])
    stop = Interruption(middle, KeyboardInterrupt())
    path = tmp_path / "cup.h5"
    run(case, path, progress=stop, frame_interval=0.02, checkpoint_every=0.0)
    with h5py.File(path) as file:
        assert file["checkpoint/flow/pocket_air"][:].any(), "it was stopped with pockets"
    run(case, path, resume=True)
    assert not differences(tmp_path / "whole.h5", path)


@pytest.mark.parametrize("air", ["kept", "void"])
def test_energy_is_only_lost(tmp_path, air):
    """No more than a hundredth of what was lost comes back; pressed air is counted."""
    path = tmp_path / "cup.h5"
    run(case_of(STEEL + f'\nair = "{air}"'), path)
    with h5py.File(path) as file:
        lost = file["history/energy_lost"][:]
        volume = file["history/pocket_volume"][:]
    assert volume.max() > 1e-5
    back = float((np.maximum.accumulate(lost) - lost).max())
    assert back < 0.01 * lost.max(), f"{back:.3g} J of {lost.max():.3g} J came back"
