"""Intervals of sinking times: the arithmetic against a statistics library, the words, the table."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from coarse_cups import STEEL, case_of
from sinkbowl.common.errors import ResultError
from sinkbowl.common.shown import seconds_with
from sinkbowl.files.result import read_result
from sinkbowl.scatter.draws import draws_at, hole_ratio, table
from sinkbowl.scatter.interval import (
    as_attributes,
    figures,
    from_attributes,
    interval_words,
    mean_uncertainty,
    next_release,
    of_members,
    one_draw,
)
from synthetic import edited, write_result

TIMES = [0.5471, 0.5423, 0.5552, 0.5530, 0.5488]


def test_the_mean_has_the_confidence_interval_of_student() -> None:
    """scipy.stats.t.interval about the mean with the standard error of the mean."""
    low, high = stats.t.interval(0.95, 4, np.mean(TIMES), stats.sem(TIMES))
    assert mean_uncertainty(TIMES) == pytest.approx(0.5 * (high - low), rel=1e-12)
    assert math.isnan(mean_uncertainty([0.5]))


@pytest.mark.parametrize("n", [2, 3, 8, 40])
def test_the_next_release_falls_within_its_interval_nineteen_times_in_twenty(n: int) -> None:
    """From first principles: draws from a normal law, the interval about the mean of n of them, and
    one more draw. 20,000 trials scatter by 0.15 %; four of these are allowed."""
    draws = np.random.default_rng(5).normal(1.0, 0.02, (20_000, n + 1))
    half = np.array([next_release(row) for row in draws[:, :n]])
    hit = np.mean(np.abs(draws[:, n] - draws[:, :n].mean(axis=1)) < half)
    assert hit == pytest.approx(0.95, abs=4.0 * math.sqrt(0.95 * 0.05 / 20_000))
    student = stats.t.ppf(0.975, n - 1)
    by_hand = student * np.std(draws[0, :n], ddof=1) * math.sqrt(1.0 + 1.0 / n)
    assert half[0] == pytest.approx(by_hand, rel=1e-12)


def test_scatter_and_grid_add_by_the_root_of_their_squares() -> None:
    case = case_of(STEEL)
    alone, both = of_members(case, TIMES), of_members(case, TIMES, 0.012)
    assert alone is not None
    assert both is not None
    assert alone.time == both.time == np.median(TIMES)
    assert alone.half == alone.scatter == next_release(TIMES)
    assert both.half == pytest.approx(math.sqrt(alone.scatter**2 + 0.012**2), rel=1e-12)
    assert (both.low, both.high) == (both.time - both.half, both.time + both.half)
    assert "not in it" in alone.words
    assert "by the grids" in both.words


def test_a_time_is_never_below_nothing() -> None:
    """Two members that differ by half of their time: Student's 12.7 reaches far."""
    interval = of_members(case_of(STEEL), [0.4, 0.8])
    assert interval is not None
    assert interval.low == 0.0
    assert interval.high > 1.0


def test_a_rim_that_stays_dry_leaves_no_interval() -> None:
    assert of_members(case_of(STEEL), [0.5, None, 0.6]) is None
    assert one_draw(case_of(STEEL), None) is None
    assert set(figures(None).values()) == {None}


def test_one_draw_says_so_and_has_the_table_s_width_root_two_times() -> None:
    """Prediction from n = 1 draw of known spread: sqrt(1 + 1/1) (from first principles)."""
    case = case_of(STEEL)
    interval = one_draw(case, 0.5)
    assert interval is not None
    draws = draws_at(40.0 / 96.0)
    assert interval.hole_ratio == hole_ratio(case) == pytest.approx(40.0 / 96.0)
    assert interval.scatter == pytest.approx(math.sqrt(2.0) * draws.scatter * 0.5)
    assert interval.grid == pytest.approx(draws.grid * 0.5)
    assert "one draw of many" in interval.words
    assert "d/D 0.42" in interval.words
    on_grids = one_draw(case, 0.5, 0.001)
    assert on_grids is not None
    assert (on_grids.grid, on_grids.grid_from) == (0.001, "grids")


def test_the_table_is_linear_between_its_rows_and_level_beyond_them() -> None:
    rows = table()
    assert np.all(np.diff(rows[:, 0]) > 0.0)
    assert np.all((rows[:, 1:] > 0.0) & (rows[:, 1:] < 1.0))
    middle = draws_at(float(rows[2:4, 0].mean()))
    assert middle.scatter == pytest.approx(rows[2:4, 1].mean())
    assert middle.grid == pytest.approx(rows[2:4, 2].mean())
    assert draws_at(0.001) == draws_at(float(rows[0, 0]))
    assert draws_at(1.2) == draws_at(float(rows[-1, 0]))


def test_an_interval_goes_through_a_file_s_attributes_unchanged() -> None:
    interval = of_members(case_of(STEEL), TIMES, 0.012)
    assert interval is not None
    stored = as_attributes(interval) | {"sinking_time_s": interval.time, "members": 5.0}
    assert from_attributes(stored) == interval
    assert stored["sinking_time_low_s"] == interval.low
    assert stored["sinking_time_high_s"] == interval.high
    assert from_attributes(as_attributes(None)) is None
    assert from_attributes(stored | {"grid_from": "hearsay"}) is None


def test_a_result_without_an_interval_of_its_own_is_one_draw(tmp_path: Path) -> None:
    result = read_result(write_result(tmp_path / "cup.h5"))
    assert result.sinking_time is not None
    assert result.interval == one_draw(result.case, result.sinking_time)
    assert result.members == 1
    assert result.seed is None
    assert result.member_times == (result.sinking_time,)


def test_members_of_which_one_stayed_dry_have_no_interval(tmp_path: Path) -> None:
    """Nor that of a single run."""
    path = write_result(tmp_path / "cup.h5")
    with edited(path) as file:
        file.attrs["members"] = 3
    assert read_result(path).sinking_time is not None
    assert read_result(path).interval is None
    with edited(path) as file:
        file.attrs["members"] = np.nan
    with pytest.raises(ResultError, match="whole numbers"):
        read_result(path)


def test_several_runs_say_together_what_their_intervals_are_made_of() -> None:
    case = case_of(STEEL)
    told = interval_words([of_members(case, TIMES, 0.01), None])
    assert "medians of 5 releases" in told
    assert "Scatter by members; grid: grids" in told
    assert "one draw of many" in interval_words([one_draw(case, 0.5)])
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
        (0.25, 0.2, "250 ± 200 ms"),
        (0.5, 1e-9, "0.500000 ± 0.000050 s"),
        (0.5, 0.0, "0.500000 ± 0.000050 s"),
        (0.5, None, "0.500 s"),
    ],
)
def test_a_time_has_the_digits_that_its_interval_carries(
    t: float, half: float | None, text: str
) -> None:
    """Two figures of the half-width (common practice), no finer than 1e-4 of the time."""
    assert seconds_with(t, half) == text


def test_a_time_with_its_interval_takes_the_unit_of_its_neighbours() -> None:
    assert seconds_with(0.0952, 0.001, 2.0) == "0.0952 ± 0.0010 s"
