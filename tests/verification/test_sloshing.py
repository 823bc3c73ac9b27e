"""Axisymmetric sloshing in an upright cylinder, R = h = 0.1 m, against linear theory.

w^2 = g k tanh kh with J1(kR) = 0 (Lamb, Hydrodynamics, art. 191, from memory; zeros from
scipy.special).
"""

import pytest

from proofs import hold
from sinkbowl.proof import waves


@pytest.mark.parametrize(("mode", "hertz"), [(1, 3.0837), (2, 4.1746)])
def test_linear_theory_gives_these_frequencies(mode: int, hertz: float):
    """Zeros 3.83171 and 7.01559 of J1 (Abramowitz & Stegun, table 9.5, from memory), by hand."""
    assert waves.frequency(mode) == pytest.approx(hertz, abs=5e-5)


def test_first_mode_keeps_its_time_and_height():
    """Frequency within 0.3 % at 32 cells a radius, amplitude within 0.2 % a period.

    The surface moves by 1/100 of the depth; theory is linear in that.
    """
    hold(waves.first_mode)


def test_viscosity_damps_the_first_mode_as_lamb_says():
    """Exact rate for deep water (Lamb art. 349, from memory), 10 %; tanh kh = 0.9991 here."""
    hold(waves.damped_mode)


def test_small_viscosity_damps_at_twice_nu_k_squared():
    """2 nu k^2 (Lamb art. 348, from memory), by hand for k = 38.3171 / m."""
    assert waves.damping_rate(1, 1e-9) == pytest.approx(2e-9 * 38.3171**2, rel=1e-3)


def test_second_mode_converges_at_second_order():
    """Mode 2, whose shorter wave leaves errors far above the finite-amplitude shift; order 1.8."""
    hold(waves.second_mode)
