"""The grid convergence index on sequences with a known answer."""

import math

import pytest

from sinkbowl.running.convergence import convergence, observed_order

CELLS = (1.0, math.sqrt(2.0), 2.0)


@pytest.mark.parametrize("order", [0.7, 1.0, 1.5, 2.0])
@pytest.mark.parametrize("cells", [CELLS, (1.0, 1.5, 2.0), (1.0, 1.3, 2.1)])
def test_order_and_index_of_a_pure_power_law(order, cells):
    """f = 3 + 0.1 h^p: order p, and 1.25 times the true error, from the definition."""
    verdict = convergence(cells, [3.0 + 0.1 * h**order for h in cells])
    assert verdict.kind == "monotone"
    assert verdict.order == pytest.approx(order, rel=1e-6)
    assert verdict.uncertainty == pytest.approx(1.25 * 0.1, rel=1e-6)
    assert verdict.warning == ""


@pytest.mark.parametrize(
    ("counts", "values", "order", "per_cent"),
    [
        ((18000.0, 8000.0, 4500.0), (6.063, 5.972, 5.863), 1.53, 2.2),
        ((18000.0, 4500.0, 980.0), (10.7880, 10.7250, 10.6050), 0.75, 1.1),
    ],
)
def test_worked_examples_of_celik_and_others(counts, values, order, per_cent):
    """Celik et al. 2008, J. Fluids Eng. 130, 078001, table 1: numbers of cells in a plane.

    Values from memory; order to 0.01 and index to 0.1 %, as printed there.
    """
    cells = [math.sqrt(1.0 / n) for n in counts]
    verdict = convergence(cells, values)
    assert verdict.order == pytest.approx(order, abs=0.01)
    assert 100.0 * verdict.uncertainty / values[0] == pytest.approx(per_cent, abs=0.06)


def test_order_above_the_scheme_s_is_bounded():
    """p = 4 observed: the index takes 2, and so 1.25 |e21| / (2 - 1) with a ratio of sqrt(2)."""
    values = [3.0 + 0.1 * h**4 for h in CELLS]
    verdict = convergence(CELLS, values)
    assert verdict.order == pytest.approx(4.0)
    assert verdict.bounded_order == 2.0
    assert verdict.uncertainty == pytest.approx(1.25 * (values[1] - values[0]))


def test_low_order_is_bounded_and_told():
    """p = 0.2: the index takes 0.5."""
    values = [3.0 + 0.1 * h**0.2 for h in CELLS]
    verdict = convergence(CELLS, values)
    assert verdict.kind == "monotone"
    assert verdict.uncertainty == pytest.approx(1.25 * (values[1] - values[0]) / (2**0.25 - 1))
    assert "order 0.2 is low" in verdict.warning


@pytest.mark.parametrize("values", [(2.0, 2.1, 2.02), (2.0, 1.9, 2.03)])
def test_values_that_swing_are_told_and_get_three_times_their_range(values):
    verdict = convergence(CELLS, values)
    assert verdict.kind == "oscillating"
    assert math.isnan(verdict.order)
    assert verdict.uncertainty == pytest.approx(3.0 * (max(values) - min(values)))
    assert "oscillate" in verdict.warning


def test_values_that_move_apart_are_told_and_get_three_times_their_range():
    """Differences 0.2 towards the finest grid, 0.1 before."""
    verdict = convergence(CELLS, (2.0, 2.2, 2.3))
    assert verdict.kind == "diverging"
    assert verdict.order < 0.0
    assert verdict.uncertainty == pytest.approx(0.9)
    assert "diverge" in verdict.warning


def test_equal_values_have_no_uncertainty():
    verdict = convergence(CELLS, (2.0, 2.0, 2.0))
    assert verdict.uncertainty == 0.0
    assert verdict.warning == ""


def test_further_grids_do_not_change_the_verdict():
    """The three finest count."""
    assert convergence((*CELLS, 3.0), (2.0, 2.1, 2.3, 9.0)) == convergence(CELLS, (2.0, 2.1, 2.3))


@pytest.mark.parametrize("cells", [(1.0, 2.0), (2.0, 1.0, 4.0)])
def test_too_few_grids_or_disorder_are_refused(cells):
    with pytest.raises(ValueError, match=r"grids|increase"):
        convergence(cells, [1.0] * len(cells))


def test_order_of_differences_that_grow_is_negative_for_uneven_ratios_too():
    assert observed_order(0.3, 0.1, 1.5, 1.333) <= 0.0
