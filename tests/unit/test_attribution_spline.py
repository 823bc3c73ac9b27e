"""The replays' least-squares spline against scipy's."""

import numpy as np
import pytest
from scipy.interpolate import make_lsq_spline

from sinkbowl.reduced.attribution.flow_course import basis, fitted

DEGREE = 5


def test_it_is_that_of_scipy():
    draw = np.random.default_rng(1)
    t = np.concatenate(([-1.0], np.sort(draw.uniform(-1.0, 1.0, 1000)), [1.0]))
    y = np.sin(5.0 * t) + 0.1 * draw.normal(size=t.size)
    knots = np.concatenate((np.full(DEGREE, -1.0), np.linspace(-1, 1, 41), np.full(DEGREE, 1.0)))
    theirs = make_lsq_spline(t, y, knots, k=DEGREE)
    ours = fitted(knots, basis(knots, t, DEGREE), y, DEGREE)
    at = np.linspace(-1.0, 1.0, 201)
    for order in range(3):
        expected = theirs(at, order)
        assert ours(at, order) == pytest.approx(expected, abs=1e-10 * np.abs(expected).max())
