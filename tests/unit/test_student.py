"""Student's t against scipy's."""

import pytest
from scipy.special import stdtrit

from sinkbowl.common.numerics import student


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 12, 13, 99, 1000, 5001])
@pytest.mark.parametrize("chance", [0.5, 0.95, 0.999])
def test_it_is_that_of_scipy(freedom, chance):
    expected = stdtrit(freedom, 0.5 + 0.5 * chance)
    assert student(freedom, chance) == pytest.approx(expected, rel=1e-11)
