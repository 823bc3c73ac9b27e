"""Roots and minima against scipy.optimize."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar

from sinkbowl.common.numerics import least, root

FUNCTIONS = {
    "cubic": lambda x, a: x**3 - a,
    "exponential": lambda x, a: math.exp(x) - a,
    "a jump": lambda x, a: math.copysign(1.0, x - a),
    "steep": lambda x, a: math.atan(1e4 * (x - a)),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@given(a=st.floats(0.1, 5.0), low=st.floats(-9.0, -5.1), digits=st.integers(5, 14))
def test_roots_have_the_bits_of_brentq(name, a, low, digits):
    """The flow solver starts from such a root: another last bit would be another run."""
    calls: dict[str, list[float]] = {"own": [], "theirs": []}

    def noted(who: str, x: float) -> float:
        calls[who].append(x)
        return FUNCTIONS[name](x, a)

    xtol, rtol = 10.0**-digits, 4.0 * float(np.finfo(float).eps)
    theirs = brentq(lambda x: noted("theirs", x), low, 6.0, xtol=xtol, rtol=rtol)
    assert root(lambda x: noted("own", x), low, 6.0, xtol, rtol) == theirs
    assert calls["own"] == calls["theirs"]


def test_no_change_of_sign_is_an_error():
    with pytest.raises(ValueError, match="no change of sign"):
        root(lambda x: x, 1.0, 2.0)


def test_a_function_that_is_flat_at_its_root_is_given_up():
    """So does brentq."""
    with pytest.raises(ArithmeticError, match="no root after 100 steps"):
        root(lambda x: (x - 1.0) ** 5, -6.0, 6.0, xtol=1e-14)


def test_a_root_at_an_end_is_found():
    assert root(lambda x: x - 1.0, 1.0, 2.0) == 1.0
    assert root(lambda x: x - 2.0, 1.0, 2.0) == 2.0


@given(a=st.floats(-1.5, 3.5))
def test_the_least_is_where_scipy_finds_it(a):
    """Flat to the square at its least: places agree to about the root of the round-off."""
    theirs = minimize_scalar(
        lambda x: math.cosh(x - a), bounds=(-2.0, 4.0), method="bounded", options={"xatol": 1e-8}
    )
    place, value = least(lambda x: math.cosh(x - a), -2.0, 4.0, 1e-7)
    assert place == pytest.approx(theirs.x, abs=1e-6)
    assert value == pytest.approx(theirs.fun, rel=1e-9)
