"""What comes back from the tub's wall, with and without a beach; its budgets stay closed."""

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from sinkbowl.files.result import read_result
from sinkbowl.flow.effects.beach import Beach, make_beach
from sinkbowl.flow.grid import uniform_grid
from sinkbowl.flow.kernels import sums
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import empty_state, make_mesh
from sinkbowl.running.runner import run
from sinkbowl.verification import beach
from sinkbowl.verification.tanks import DENSITY


@pytest.mark.parametrize("share", [0.0, 0.05, 0.4])
def test_the_fit_finds_both_waves(share):
    """Waves made of scipy's Bessel functions, H0 = J0 +- i Y0."""
    from scipy.special import j0, y0

    r = np.linspace(0.7, 1.0, 40)
    k = 2.0 * np.pi / beach.LENGTH
    heights = (1.0 + share) * j0(k * r) + 1j * (1.0 - share) * y0(k * r)
    found = beach.fit(r, heights, k)
    assert found.reflection == pytest.approx(share, abs=1e-12)
    assert found.misfit < 1e-12


def test_what_the_beach_takes_is_what_it_tells():
    """Momentum and energy of the water in the whole tub before and after: equal to round-off."""
    grid = uniform_grid(1.0, 0.0, 1.0, 20, 20)
    state, random = empty_state(grid), np.random.default_rng(3)
    state.water[:] = np.outer(grid.r_c * grid.dr, grid.dz)
    state.u_r[1:-1] = random.normal(size=(19, 20))
    state.u_z[:] = random.normal(size=(20, 21))
    start = state.u_r.copy()
    unit = 2.0 * np.pi * DENSITY

    def held() -> np.ndarray:
        energy = sums.kinetic_energy(state.water, state.u_r, state.u_z)
        return unit * np.array([sums.upward_momentum(state.water, state.u_z), energy])

    before = held()
    mesh = make_mesh(grid, place_solid(grid, None))
    told = make_beach(grid, 0.33, DENSITY).act(state, mesh, 0.01)
    gained = held() - before
    assert told.energy > 0.0
    assert told.on_bowl == 0.0
    assert gained == pytest.approx([told.impulse, -told.energy], rel=1e-9)
    assert np.array_equal(state.u_r[:14], start[:14]), "water before the beach is left alone"
    assert np.all(np.abs(state.u_r[14:-1]) < np.abs(start[14:-1]))


def test_no_beach_is_made_where_none_is_wanted():
    """An option that is not asked for costs nothing."""
    assert initialise(case_of(STEEL)).ops.force(Beach) is None
    assert initialise(case_of(f'{STEEL}beach = "0 mm"\n')).ops.force(Beach) is None


@pytest.mark.slow
def test_budgets_of_a_sinking_stay_closed_with_a_beach(tmp_path):
    """Water to round-off; momentum as well as without a beach, whose push is counted. 2 % of the
    weight's impulse is what ordinary runs leave open (soundness.py)."""
    run(case_of(f'{STEEL}beach = "60 mm"\n'), tmp_path / "cup.h5")
    result = read_result(tmp_path / "cup.h5")
    h = result.history
    assert result.sinking_time is not None
    assert np.abs(h["volume_error"]).max() < 1e-12
    assert np.abs(h["momentum_error"]).max() < 0.02, np.abs(h["momentum_error"]).max()
    assert 0.0 < h["beach_energy"][-1] < h["energy_lost"][-1]
    assert np.all(np.diff(h["beach_energy"]) >= 0.0)
