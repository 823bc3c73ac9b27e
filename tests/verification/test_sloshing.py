"""Axisymmetric sloshing in an upright cylinder, R = h = 0.1 m, against linear theory.

w^2 = g k tanh kh with J1(kR) = 0 (Lamb, Hydrodynamics, art. 191, from memory; zeros from
scipy.special).
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j0, j1

from sinkbowl.verification import waves
from verified import hold


@pytest.mark.parametrize(("mode", "hertz"), [(1, 3.0837), (2, 4.1746)])
def test_linear_theory_gives_these_frequencies(mode, hertz):
    """Zeros 3.83171 and 7.01559 of J1 (Abramowitz & Stegun, table 9.5, from memory), by hand."""
    assert waves.frequency(mode) == pytest.approx(hertz, abs=5e-5)


def test_first_mode_keeps_its_time_and_height():
    """Frequency within 0.3 % at 32 cells a radius, amplitude within 0.2 % a period. The surface
    moves by 1/100 of the depth; theory is linear in that."""
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


def test_layers_on_bottom_and_side_damp_what_their_loss_takes_from_the_energy():
    """rho U^2 sqrt(nu w/2)/2 a unit of area (Stokes, from first principles), summed by quadrature.
    phi = J0(kr) cosh k(z + h); the energy is that of the motion when it is greatest."""
    k, h, radius = waves.wave_number(1), waves.SHALLOW, waves.RADIUS
    omega = 2.0 * np.pi * waves.frequency(1, h)
    bottom = quad(lambda r: (k * j1(k * r)) ** 2 * r, 0.0, radius)[0]
    side = radius * quad(lambda s: (k * j0(k * radius) * np.sinh(k * s)) ** 2, 0.0, h)[0]
    radial = quad(lambda r: j0(k * r) ** 2 * r, 0.0, radius)[0]
    energy = 0.5 * radial * k * np.sinh(k * h) * np.cosh(k * h)
    loss = 0.5 * np.sqrt(0.5 * waves.WALL_VISCOSITY * omega) * (bottom + side)
    assert waves.wall_damping_rate()[0] == pytest.approx(loss / (2.0 * energy), rel=1e-9)


@pytest.mark.slow
def test_walls_damp_the_first_mode_as_their_stokes_layers_say():
    """Case & Parkinson 1957 (from memory, derived there), 10 %, from one cell a layer on. The error
    is not to grow as the layer gets two and three cells."""
    (check,) = hold(waves.no_slip_basin)
    errors = [abs(ours / check.reference - 1.0) for _, ours in check.grids]
    assert errors[0] < 0.1, f"{errors}"
    assert errors == sorted(errors, reverse=True), f"{errors}"
