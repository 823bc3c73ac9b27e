"""Releases that are a little off: what is drawn, and what it does to the water at the start."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import jn_zeros

from coarse_cups import STEEL, case_of, thick_cup
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.flow.release import wave_levels
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.step import advance
from sinkbowl.scatter import (
    DRAFT_SCATTER,
    UNDISTURBED,
    WAVE_SCATTER,
    Disturbance,
    drawn,
)


def test_draws_depend_on_seed_and_member_alone_and_scatter_as_said():
    """Mean and standard deviation of 4000 draws, to four of their own standard errors."""
    draws = np.array([(d.draft, d.wave) for d in (drawn(7, member) for member in range(4000))])
    assert drawn(7, 3) == drawn(7, 3)
    assert drawn(7, 3) != drawn(7, 4)
    assert drawn(7, 3) != drawn(8, 3)
    spread = np.array([DRAFT_SCATTER, WAVE_SCATTER])
    assert np.all(np.abs(draws.mean(axis=0)) < 4.0 * spread / np.sqrt(4000))
    assert np.all(np.abs(draws.std(axis=0) / spread - 1.0) < 4.0 / np.sqrt(2 * 4000))
    assert abs(np.corrcoef(draws.T)[0, 1]) < 4.0 / np.sqrt(4000)


def test_without_a_disturbance_nothing_changes_to_the_bit():
    first, second = initialise(case_of(STEEL)), initialise(case_of(STEEL), Disturbance(0.0, 0.0))
    assert first.start_draft == second.start_draft
    for name in ("water", "extended", "pressure", "u_r", "u_z"):
        one, other = (getattr(v.state, name) for v in (first, second))
        assert one.tobytes() == other.tobytes(), name


def test_a_thin_bowl_has_the_wave_of_the_tub_alone():
    """J0(j11 r / R), j11 the first zero of J1 (Lamb, Hydrodynamics, art. 191, from memory; scipy):
    the bowl of a hundredth of the tub's radius changes it by less than 1 % of its height."""
    from scipy.special import j0

    r_f = np.linspace(0.0, 0.3, 301)
    level = wave_levels(r_f, 0.0, 1e-4)
    zero = jn_zeros(1, 1)[0]
    for i in (10, 100, 200, 299):
        mean = quad(lambda r: j0(zero * r / 0.3) * r, r_f[i], r_f[i + 1])[0]
        mean /= 0.5 * (r_f[i + 1] ** 2 - r_f[i] ** 2)
        assert level[i] / 1e-4 == pytest.approx(mean, abs=0.01)


def test_the_wave_has_its_height_at_the_bowl_and_no_volume():
    """From first principles: an ideal fluid's mode between two walls holds no water."""
    r_f = np.concatenate([np.linspace(0.0, 0.05, 26), np.linspace(0.05, 0.15, 101)[1:]])
    level = wave_levels(r_f, 0.05, -2e-4)
    ring = np.diff(r_f**2)
    beside = r_f[:-1] >= 0.05 - 1e-12
    assert level[beside][0] == pytest.approx(-2e-4, rel=1e-3)
    assert abs(np.sum((level * ring)[beside])) < 1e-12 * np.sum(np.abs(level * ring)[beside])
    assert np.all(np.diff(level[beside]) > 0.0)
    assert level[-1] > 0.0


@pytest.mark.parametrize(
    "case", ["steel-cup-wide-hole", "brass-cap", "beech-dish-brass-ring", "open-ring"]
)
def test_a_bowl_released_too_deep_into_a_wave_displaces_the_right_water(case):
    """Archimedes on the grid: the water's own volume is that of the level less the bowl's, so the
    wave adds none. Tolerance: a cut cell's level is that of its column, some 1e-3 of the wave."""
    loaded = load_case(shipped_case(case))
    still = initialise(loaded, Disturbance(2e-4, 0.0))
    waved = initialise(loaded, Disturbance(2e-4, 5e-4))
    assert waved.draft == still.draft == initialise(loaded).draft + 2e-4
    lifted = np.sum(np.abs(waved.state.water - still.state.water))
    print(f"\n{case}: {np.sum(waved.state.water - still.state.water) / lifted:.1e}")
    assert lifted > 0.0
    assert abs(np.sum(waved.state.water - still.state.water)) < 0.02 * lifted


def test_the_wave_swings_back_in_half_its_period():
    """A closed cup at rest in a wave: after half a period of deep water, pi / sqrt(g k), the level
    at the bowl has the other sign (Lamb, art. 191, from memory; k of the ring by scipy above).
    The bowl follows the wave and takes part of it, so only the sign is asked for."""
    text = (
        thick_cup(500)
        .text.replace('"resolved"', '"closed"')
        .replace('"10 mm"\nhole', '"5 mm"\nhole')
    )
    sim = initialise(case_of(text), Disturbance(0.0, 2e-3))
    grid = sim.ops.grid
    ring = np.flatnonzero(grid.r_f[:-1] >= 0.05 - 1e-9)[:3]
    area = np.sum(np.diff(grid.r_f**2)[ring]) / 2.0

    def level() -> float:
        return float(np.sum(sim.state.water[ring]) / area) + grid.z_f[0] - sim.draft

    begun = level()
    assert begun > 1e-3
    half = np.pi / np.sqrt(9.81 * 3.2 / (grid.r_f[-1] - 0.05))
    lowest = begun
    while sim.state.time < 1.2 * half:
        advance(sim.state, sim.body(), sim.time_step(), sim.ops)
        lowest = min(lowest, level())
    print(f"\n{1e3 * begun:.3f} mm, lowest {1e3 * lowest:.3f} mm in {1.2 * half:.3f} s")
    assert lowest < -0.3 * begun


def test_undisturbed_is_what_it_says():
    assert Disturbance() == UNDISTURBED
    with pytest.raises(ValueError, match="non-negative"):
        drawn(-1, 0)
