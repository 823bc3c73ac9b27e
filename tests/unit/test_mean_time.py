"""Mean, interval and suspect of trials: the same wherever they are read, and right."""

import json
import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import ttest_1samp

from console import call
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl_post.check.sheet import COLUMNS
from sinkbowl_post.fitting.trial_cases import trial_cases
from sinkbowl_post.fitting.wetting import fit_angle
from sinkbowl_post.logbook.book import undo_trial
from sinkbowl_post.logbook.log import log_trial
from sinkbowl_post.measured.mean_time import MeanTime
from sinkbowl_post.measured.measured import Trials, counted, read_measured
from sinkbowl_post.measured.overlay import overlay_of
from trials import CASE_TEXT, cup_case

TIMES = (24.1, 24.5, 23.8, 24.3)


def mean_of(*times: float, timing: float = 0.1, expected: float | None = None) -> MeanTime:
    return MeanTime(times, tuple(range(2, 2 + len(times))), timing, expected)


def test_four_trials_have_student_s_interval_by_their_own_scatter():
    """Against scipy's t-test."""
    interval = ttest_1samp(TIMES, 0.0).confidence_interval(0.95)
    found = mean_of(*TIMES, timing=7.0)
    assert found.mean == pytest.approx(0.5 * (interval.low + interval.high))
    assert found.half_width == pytest.approx(0.5 * (interval.high - interval.low))


@pytest.mark.parametrize("times", [(24.1,), (24.1, 24.5), (24.1, 24.5, 23.8)])
def test_up_to_three_trials_have_the_posterior_s_interval(times):
    """Bayes' theorem by integration over all standard deviations.

    Likelihood normal, prior of the mean flat, of the variance scaled inverse chi^2 with two degrees
    and 0.1 s (Gelman et al. 2013, Bayesian Data Analysis, sec. 3.3, from memory).
    """
    found = mean_of(*times)
    middle, n = found.mean, len(times)
    apart = sum((time - middle) ** 2 for time in times)

    def density(off: float) -> float:
        def at(log_s: float) -> float:
            s = math.exp(log_s)
            prior = s ** -(2 + 2) * math.exp(-2 * 0.1**2 / (2 * s**2))
            return prior * s**2 * s**-n * math.exp(-(apart + n * off**2) / (2 * s**2))

        return float(quad(at, math.log(1e-3), math.log(1e4), limit=400)[0])

    inside = quad(density, 0.0, found.half_width)[0]
    beyond = quad(density, found.half_width, 400 * found.half_width, limit=400)[0]
    assert inside / (inside + beyond) == pytest.approx(0.95, abs=2e-3)


def test_the_interval_holds_the_true_mean_as_often_as_it_says():
    """2000 sets of four: 95 % within 3 binomial deviations."""
    rng, hits = np.random.default_rng(5), 0
    for times in rng.normal(24.0, 0.3, (2000, 4)):
        found = mean_of(*times.tolist(), timing=0.01)
        hits += abs(found.mean - 24.0) <= found.half_width
    assert hits / 2000 == pytest.approx(0.95, abs=3 * math.sqrt(0.95 * 0.05 / 2000))


def test_the_same_time_four_times_over_has_the_timing_s_uncertainty():
    assert mean_of(1.8, 1.8, 1.8, 1.8).half_width > 0.05


@pytest.mark.parametrize(
    ("found", "row"),
    [
        (mean_of(1.71, 17.6, 1.73, 1.69), 3),
        (mean_of(1.71, 1.9, 17.6), 4),
        (mean_of(17.6, 1.71, expected=1.7), 2),
        (mean_of(17.6, expected=1.7), 2),
        (mean_of(1.70, 1.70, 1.71), None),
        (mean_of(1.71, 1.73, 1.69, 1.75), None),
        (mean_of(1.71, 1.73, expected=2.2), None),
    ],
)
def test_the_row_that_is_off_is_named(found, row):
    assert found.as_dict()["suspect_row"] == row
    assert found.suspect_words.startswith("" if row is None else f"Row {row}, 17.6 s, is suspect")


def test_log_and_compare_say_the_same_of_the_same_trials(tmp_path, capsys):
    book, case = tmp_path / "trials.csv", cup_case()
    for time in TIMES:
        assert call("log", book, "--hole", "8 mm", "--time", f"{time} s", "--json") == 0
        logged = json.loads(capsys.readouterr().out)
    told = overlay_of(case, read_measured(book))
    assert told.time == logged["mean_s"]
    assert told.half_width == logged["half_width_s"]


def test_the_printed_sheet_s_columns_and_failed_trials_are_read(tmp_path):
    path = tmp_path / "sheet.csv"
    rows = (
        '1,8,200,"24,1",,',
        "2,8,200,24.5 s,sank,good",
        "3,8,200,2.1,tipped,hit the wall",
        "4,8,200,,failed,thumb slipped",
        "5,8,200,,stayed plugged,",
        "6,,,,,",
    )
    path.write_text("\n".join([",".join(COLUMNS), *rows]), encoding="utf-8")
    table = read_measured(path)
    assert isinstance(table, Trials)
    assert [trial.time for trial in table.trials] == [24.1, 24.5, None, None, None]
    assert counted(table.trials) == {"plugged": 1, "tips": 1, "failed": 1}
    told = overlay_of(cup_case(), table)
    assert told.times == (24.1, 24.5)
    assert "1 plugged, 1 tipped, 1 failed" in told.row(None)[1]
    angle = fit_angle(trial_cases(cup_case(), table))
    assert (angle.plugged, angle.started) == (1, 2)


def test_columns_that_are_empty_are_the_case_s_own(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(f"{','.join(COLUMNS)}\n1,,,24.1,,\n2,,,24.3,,\n", encoding="utf-8")
    table = read_measured(path)
    assert isinstance(table, Trials)
    assert [(trial.hole, trial.mass) for trial in table.trials] == [(None, None)] * 2


def test_a_suspect_trial_is_asked_about_and_can_be_taken_back(tmp_path, capsys):
    book = tmp_path / "trials.csv"
    for time in (1.71, 1.73, 1.69):
        log_trial(book, hole="20 mm", time=time)
    before = book.read_text(encoding="utf-8")
    add = ("log", book, "--hole", "20 mm", "--time", "17.6 s")
    assert call(*add) == 2, "nobody at the terminal to answer"
    assert "17.6 s is suspect: 10 times the others' 1.71 s. It was not" in capsys.readouterr().err
    assert book.read_text(encoding="utf-8") == before
    assert call(*add, "--yes") == 0
    assert "The last trial is an outlier" in capsys.readouterr().out
    assert call("log", book, "--undo") == 0
    assert "Removed: 20,17.6," in capsys.readouterr().out
    assert book.read_text(encoding="utf-8") == before


def test_a_logbook_whose_only_row_was_taken_back_goes_on(tmp_path):
    book = tmp_path / "trials.csv"
    log_trial(book, hole="20 mm", time="1,71 s")
    undo_trial(book)
    with pytest.raises(CaseError, match="no row to remove"):
        undo_trial(book)
    assert log_trial(book, hole="20 mm", time="1,73 s").times == (1.73,)


def test_a_trial_that_tips_is_logged_as_what_it_is(tmp_path):
    book, case = tmp_path / "trials.csv", tmp_path / "cup.toml"
    case.write_text(CASE_TEXT, encoding="utf-8")
    log_trial(book, case=str(case), outcome="capsized", remarks="wind")
    logged = log_trial(book, case=str(case), time="24,1 s")
    assert logged.failed == {"tips": 1}
    assert logged.times == (24.1,)
    assert "1 timed, 1 tipped with" in repr(logged)


def test_a_first_time_far_off_the_model_is_doubted(tmp_path):
    case, doubts = parse_case(CASE_TEXT, tmp_path, "cup.toml"), []
    book = tmp_path / "trials.csv"
    log_trial(book, case=case, time="240 s", doubted=doubts.append)
    assert len(doubts) == 1
    assert "the heave model's" in doubts[0]
    log_trial(tmp_path / "other.csv", case=case, time="24 s", doubted=doubts.append)
    assert len(doubts) == 1
