"""Monotone cubics against scipy's."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from sinkbowl.common.numerics import Monotone


@pytest.mark.parametrize("count", [2, 3, 4, 17])
@pytest.mark.parametrize("shape", [(), (5,), (2, 3)])
def test_they_are_those_of_scipy(count, shape):
    draw = np.random.default_rng(count)
    x = np.cumsum(draw.uniform(0.1, 1.0, count))
    y = draw.integers(-3, 4, (count, *shape)).astype(float)  # chords of 0 and turns among them
    at = np.linspace(x[0] - 0.5, x[-1] + 0.5, 101)
    assert Monotone(x, y)(at) == pytest.approx(PchipInterpolator(x, y)(at), abs=1e-11)
    assert Monotone(x, y)(x) == pytest.approx(y, abs=1e-12)
