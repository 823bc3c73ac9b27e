"""Axisymmetric sloshing in an upright cylinder, R = h = 0.1 m, against linear theory.

w^2 = g k tanh kh with J1(kR) = 0 (Lamb, Hydrodynamics, art. 191, from memory; zeros from
scipy.special): 3.0837 and 4.1746 Hz.
"""

import numpy as np
import pytest

from tanks import slosh


def test_first_mode_within_half_a_per_cent_at_32_cells():
    """The surface moves by 1/100 of the depth; theory is linear in that."""
    period, kept = slosh(32, mode=1, amplitude=1e-3)
    assert period == pytest.approx(1.0, abs=0.005), f"period off by {100 * (period - 1):+.3f} %"
    assert kept == pytest.approx(1.0, abs=0.002), f"amplitude kept per period: {kept:.5f}"


def test_second_mode_converges_at_second_order():
    """Mode 2, whose shorter wave leaves errors far above the finite-amplitude shift."""
    errors = [abs(slosh(cells, mode=2, amplitude=3e-4)[0] - 1.0) for cells in (12, 24, 48)]
    order = np.log2(errors[0] / errors[2]) / 2.0
    assert order > 1.8, f"errors {errors}, order {order:.2f}"
