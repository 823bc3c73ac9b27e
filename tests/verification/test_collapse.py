"""Collapse of an empty sphere deep in water against Rayleigh 1917, Phil. Mag. 34, 94."""

import pytest
from scipy.special import beta

from sinkbowl.common.constants import GRAVITY
from sinkbowl.verification import collapse
from sinkbowl.verification.tanks import DENSITY
from verified import hold


def test_rayleigh_s_integral_gives_his_number():
    """0.914681 R sqrt(rho/p), also as sqrt(1/6) B(5/6, 1/2) with scipy's beta function."""
    depth = collapse.REACH * collapse.RADIUS
    unit = collapse.RADIUS * (DENSITY / (DENSITY * GRAVITY * depth)) ** 0.5
    assert collapse.time_to(0.0) / unit == pytest.approx(0.914681, abs=1e-6)
    assert beta(5.0 / 6.0, 0.5) / 6.0**0.5 == pytest.approx(0.914681, abs=1e-6)


def test_a_void_collapses_in_rayleigh_s_time():
    """Times to half and to a tenth of the radius within 1 % at 16 cells a radius."""
    hold(collapse.void_verifications)
