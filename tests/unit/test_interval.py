"""Intervals of times and the grid convergence index: libraries, known answers, words, table."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from coarse_cups import STEEL, case_of
from cups import cup, ring_text
from sinkbowl.common.errors import ResultError
from sinkbowl.common.shown import seconds_with
from sinkbowl.common.sinking import STALL_HALF
from sinkbowl.files.result import read_result
from sinkbowl.reduced import MODELS
from sinkbowl.running.convergence import convergence, observed_order
from sinkbowl.scatter.interval import (
    REPEAT_RUNS,
    TimeInterval,
    as_attributes,
    figures,
    from_attributes,
    hole_ratio,
    interval_words,
    mean_noise,
    mean_uncertainty,
    next_run,
    not_computed,
    numbers,
    of_runs,
    other_of,
    repeat_runs_at,
)
from synthetic import edited, write_result

TIMES = [0.5471, 0.5423, 0.5552, 0.5530, 0.5488]
CELLS = (1.0, math.sqrt(2.0), 2.0)


def test_the_mean_has_the_confidence_interval_of_student():
    """scipy.stats.t.interval about the mean with the standard error of the mean."""
    low, high = stats.t.interval(0.95, 4, np.mean(TIMES), stats.sem(TIMES))
    assert mean_uncertainty(TIMES) == pytest.approx(0.5 * (high - low), rel=1e-12)
    assert math.isnan(mean_uncertainty([0.5]))


@pytest.mark.parametrize("n", [2, 3, 8, 40])
def test_the_next_run_falls_within_its_interval_nineteen_times_in_twenty(n):
    """From first principles: draws from a normal law, the interval about the mean of n of them, and
    one more draw. 20,000 trials scatter by 0.15 %; four of these are allowed."""
    draws = np.random.default_rng(5).normal(1.0, 0.02, (20_000, n + 1))
    half = np.array([next_run(row) for row in draws[:, :n]])
    hit = np.mean(np.abs(draws[:, n] - draws[:, :n].mean(axis=1)) < half)
    assert hit == pytest.approx(0.95, abs=4.0 * math.sqrt(0.95 * 0.05 / 20_000))
    student = stats.t.ppf(0.975, n - 1)
    by_hand = student * np.std(draws[0, :n], ddof=1) * math.sqrt(1.0 + 1.0 / n)
    assert half[0] == pytest.approx(by_hand, rel=1e-12)


def wide_hole(times: list[float | None], grid: float | None = None, **more: Any) -> TimeInterval:
    """Of the steel cup with 70 mm, of which the flow leaves nothing out."""
    case = case_of(STEEL.replace("40 mm", "70 mm"))
    found = of_runs(case, times, grid, **more)
    assert found is not None
    return found


def test_members_have_their_mean_and_its_uncertainty_falls_with_their_number():
    """Student's t of the table's 12 degrees of freedom and n - 1 more (from first principles)."""
    one, five = wide_hole([0.5]), wide_hole(TIMES)
    assert one.mean == 0.5
    assert five.time == five.mean == pytest.approx(np.mean(TIMES), rel=1e-12)
    own = float(np.std(TIMES, ddof=1))
    assert five.scatter == pytest.approx(stats.t.ppf(0.975, 16) * own / math.sqrt(5), rel=1e-6)
    usual = repeat_runs_at(hole_ratio(case_of(STEEL.replace("40 mm", "70 mm")))).deviation
    assert one.scatter == pytest.approx(stats.t.ppf(0.975, 12) * usual * 0.5, rel=1e-4)
    assert mean_noise([1.0, 1.0, 1.0, 1.0], 0.02) == pytest.approx(
        0.5 * stats.t.ppf(0.975, 15) * 0.02, rel=1e-6
    )


def test_the_table_s_deviation_is_that_behind_its_half_width():
    """t s sqrt(1 + 1/15), 12 degrees of freedom, as its remark says."""
    draws = repeat_runs_at(0.417)
    by_hand = draws.scatter / (stats.t.ppf(0.975, 12) * math.sqrt(1.0 + 1.0 / 15.0))
    assert draws.deviation == pytest.approx(by_hand, rel=1e-4)


def test_parts_add_by_the_root_of_their_squares():
    whole = wide_hole(TIMES, 0.012)
    noise, grid = whole.scatter, 0.012
    rest = math.hypot(*whole.other.values()) * whole.mean
    assert whole.half == pytest.approx(math.sqrt(noise**2 + grid**2 + rest**2), rel=1e-12)
    assert (whole.low, whole.high) == pytest.approx(
        (whole.time - whole.half, whole.time + whole.half), rel=1e-12
    )
    assert whole.best.parts.keys() >= {"numerical noise", "grid"}
    assert (whole.grid_from, wide_hole(TIMES).grid_from) == ("grids", "table")


def test_three_dimensions_shift_the_time_of_a_narrow_hole_and_closed_air_widens():
    """The tables' own numbers, at the holes at which they were found."""
    case = case_of(STEEL.replace("40 mm", "20 mm"))
    narrow = of_runs(case, [2.127])
    told = not_computed(hole_ratio(case), "kept")
    assert narrow.time == pytest.approx(2.127 * (1.0 + told.shift))
    assert narrow.time == pytest.approx(2.0665, rel=0.01), "three dimensions, base grid"
    assert "closed-off air" not in narrow.other
    assert "Its time, 2.13 s, is changed by -2." in narrow.words
    assert {type(half) for half in narrow.best.as_dict()["parts"].values()} == {float}
    kept, void = (of_runs(case_of(f'{STEEL}air = "{air}"\n'), [0.51]) for air in ("kept", "void"))
    assert 0.01 < kept.other["closed-off air"] < void.other["closed-off air"]
    closed = of_runs(case, [2.127], law=0.03)
    assert closed.time == 2.127
    assert closed.best.parts["discharge coefficient"] == 0.03
    assert "axisymmetry" not in closed.best.parts


def test_ballast_inside_takes_the_place_of_water_that_a_run_needs_besides():
    """Source: volume of a segment of a sphere, pi h^2 (3 R - h) / 3 (from memory); Archimedes."""
    ring = ring_text(150, 25, 14.8, "11300 kg/m^3")
    dish = cup(9, shape="cap", radius=60, height=38, wall=4, mass=30, more=ring)
    r = (60.0**2 + 38.0**2) / (2.0 * 38.0)
    taken = math.pi * 38.0**2 * (3.0 * r - 38.0) / 3.0 * 1e-9 - 0.18 / dish.water.density
    share = 0.150 / 11300.0 / taken
    told = of_runs(dish, [3.11], law=0.03)
    assert told.time == pytest.approx(3.11 / (1.0 + share), rel=2e-3)
    assert told.low < MODELS["heave"](dish).sinking_time < told.high
    assert "ballast inside" in told.words
    outside = of_runs(cup(9, shape="cap", radius=60, height=38, wall=4, mass=180), [3.11], law=0.03)
    assert outside.time == 3.11


def test_a_bowl_that_nearly_stalls_says_so_and_is_widened():
    """A single run of it has no narrower interval than such bowls were off by."""
    told = wide_hole([0.5], sensitive=True)
    assert told.best.share == pytest.approx(STALL_HALF)
    assert "nearly stalls" in told.words
    assert "nearly stalls" not in wide_hole([0.5]).words


def test_a_time_is_never_below_nothing():
    """Two members that differ by far more than their time."""
    interval = wide_hole([0.02, 1.6])
    assert interval.low == 0.0
    assert interval.high > 1.6


def test_a_rim_that_stays_dry_leaves_no_interval():
    assert of_runs(case_of(STEEL), [0.5, None, 0.6]) is None
    assert of_runs(case_of(STEEL), [None]) is None
    assert set(figures(None).values()) == {None}


def test_the_table_is_linear_between_its_rows_and_level_beyond_them():
    rows = numbers(REPEAT_RUNS)
    assert np.all(np.diff(rows[:, 0]) > 0.0)
    assert np.all((rows[:, 1:] > 0.0) & (rows[:, 1:] < 1.0))
    middle = repeat_runs_at(float(rows[2:4, 0].mean()))
    assert middle.scatter == pytest.approx(rows[2:4, 1].mean())
    assert middle.grid == pytest.approx(rows[2:4, 2].mean())
    assert repeat_runs_at(0.001) == repeat_runs_at(float(rows[0, 0]))
    assert repeat_runs_at(1.2) == repeat_runs_at(float(rows[-1, 0]))


def test_an_interval_goes_through_a_file_s_attributes_unchanged():
    interval = of_runs(case_of(STEEL), TIMES, 0.012, sensitive=True)
    stored = as_attributes(interval) | {"members": 5.0}
    assert from_attributes(stored) == interval
    assert stored["sinking_time_low_s"] == interval.low
    assert stored["sinking_time_high_s"] == interval.high
    assert from_attributes(as_attributes(None)) is None
    assert from_attributes(stored | {"grid_from": "hearsay"}) is None
    assert from_attributes(stored | {"sinking_time_other": "shift=much"}) is None
    with pytest.raises(ValueError, match="not parts"):
        other_of("shift=nan")


def test_a_result_without_an_interval_of_its_own_gets_that_of_its_run(tmp_path):
    result = read_result(write_result(tmp_path / "cup.h5"))
    assert result.sinking_time is not None
    found = result.interval
    expected = of_runs(result.case, [result.sinking_time], sensitive=found.sensitive)
    assert replace(found, other=expected.other if expected else {}) == expected
    assert result.members == 1
    assert result.seed is None
    assert result.member_times == (result.sinking_time,)


def test_members_of_which_one_stayed_dry_have_no_interval(tmp_path):
    """Nor that of a single run."""
    path = write_result(tmp_path / "cup.h5")
    with edited(path) as file:
        file.attrs["members"] = 3
    assert read_result(path).sinking_time is not None
    assert read_result(path).interval is None
    with edited(path) as file:
        file.attrs["members"] = np.nan
    with pytest.raises(ResultError, match="not a whole number"):
        read_result(path)


def test_several_runs_say_together_what_their_intervals_are_made_of():
    case = case_of(STEEL)
    told = interval_words([of_runs(case, TIMES, 0.01), None])
    assert "for the mean of 5 runs" in told
    assert "for one run each" in interval_words([of_runs(case, [0.5])])
    assert "Nearly stalling before the rim is under: 1." in interval_words(
        [of_runs(case, [0.5], sensitive=True)]
    )
    assert interval_words([None]) == ""


@pytest.mark.parametrize(
    ("t", "half", "text"),
    [
        (0.5683, 0.0231, "0.568 ± 0.023 s"),
        (2.3104, 0.13, "2.31 ± 0.13 s"),
        (0.09523, 0.00098, "95.23 ± 0.98 ms"),
        (0.09523, 0.00996, "95 ± 10 ms"),
        (0.5412, 0.15, "0.54 ± 0.15 s"),
        (312.43, 4.1, "312.4 ± 4.1 s"),
        (0.25, 0.2, "0.25 ± 0.20 s"),
        (0.5, 1e-9, "0.500000 ± 0.000050 s"),
        (0.5, 0.0, "0.500000 ± 0.000050 s"),
        (0.5, None, "0.500 s"),
    ],
)
def test_a_time_has_the_digits_that_its_interval_carries(t, half, text):
    """Two figures of the half-width (common practice), no finer than 1e-4 of the time."""
    assert seconds_with(t, half) == text


def test_a_time_with_its_interval_takes_the_unit_of_its_neighbours():
    assert seconds_with(0.0952, 0.001, 2.0) == "0.0952 ± 0.0010 s"


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
    """Celik et al. 2008, J. Fluids Eng. 130, 078001, table 1: numbers of cells in a plane. Values
    from memory; order to 0.01 and index to 0.1 %, as printed there."""
    cells = [math.sqrt(1.0 / n) for n in counts]
    verdict = convergence(cells, values)
    assert verdict.order == pytest.approx(order, abs=0.01)
    assert 100.0 * verdict.uncertainty / values[0] == pytest.approx(per_cent, abs=0.06)


@pytest.mark.parametrize(
    ("order", "bounded", "says"), [(4.0, 2.0, ""), (0.2, 0.5, "order 0.2 is low")]
)
def test_order_above_the_scheme_s_or_low_is_bounded(order, bounded, says):
    """The index takes 2 or 0.5, and so 1.25 |e21| / (sqrt(2)^p - 1) with a ratio of sqrt(2)."""
    values = [3.0 + 0.1 * h**order for h in CELLS]
    verdict = convergence(CELLS, values)
    assert (verdict.kind, verdict.bounded_order) == ("monotone", bounded)
    assert verdict.order == pytest.approx(order)
    expected = 1.25 * (values[1] - values[0]) / (2 ** (0.5 * bounded) - 1)
    assert verdict.uncertainty == pytest.approx(expected)
    assert says in verdict.warning


@pytest.mark.parametrize(
    ("values", "kind", "uncertainty", "order"),
    [
        ((2.0, 2.1, 2.02), "oscillating", 0.3, math.nan),
        ((2.0, 1.9, 2.03), "oscillating", 0.39, math.nan),
        ((2.0, 2.2, 2.3), "diverging", 0.9, -2.0),
    ],
)
def test_values_that_swing_or_move_apart_are_told_and_get_three_times_their_range(
    values, kind, uncertainty, order
):
    """The last: differences 0.2 towards the finest grid, 0.1 before."""
    verdict = convergence(CELLS, values)
    assert verdict.kind == kind
    assert verdict.order == pytest.approx(order, nan_ok=True)
    assert verdict.uncertainty == pytest.approx(uncertainty)
    assert kind.removesuffix("ing") in verdict.warning


def test_equal_values_have_no_uncertainty_and_further_grids_do_not_change_the_verdict():
    """The three finest count."""
    verdict = convergence(CELLS, (2.0, 2.0, 2.0))
    assert (verdict.uncertainty, verdict.warning) == (0.0, "")
    assert convergence((*CELLS, 3.0), (2.0, 2.1, 2.3, 9.0)) == convergence(CELLS, (2.0, 2.1, 2.3))


@pytest.mark.parametrize("cells", [(1.0, 2.0), (2.0, 1.0, 4.0)])
def test_too_few_grids_or_disorder_are_refused(cells):
    with pytest.raises(ValueError, match=r"grids|increase"):
        convergence(cells, [1.0] * len(cells))


def test_order_of_differences_that_grow_is_negative_for_uneven_ratios_too():
    assert observed_order(0.3, 0.1, 1.5, 1.333) <= 0.0
