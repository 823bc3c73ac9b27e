"""Measured tables, their means, intervals and suspects: the same wherever they are read."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import ttest_1samp

from console import call
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl.files.result import read_result
from sinkbowl_post.check.sheet import COLUMNS
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.fitting.trial_cases import trial_cases
from sinkbowl_post.fitting.wetting import fit_angle
from sinkbowl_post.logbook.book import undo_trial
from sinkbowl_post.logbook.log import log_trial
from sinkbowl_post.measured.mean_time import MeanTime, known_timing
from sinkbowl_post.measured.measured import Trace, Trial, counted, read_measured
from sinkbowl_post.measured.overlay import MEASURED, overlay_of
from sinkbowl_post.style import save_figure
from synthetic import HEIGHT, filling, write_result
from trials import CASE_TEXT, cup_case

TIMES = (24.1, 24.5, 23.8, 24.3)


def mean_of(*times: float, timing: float = 0.1, expected: float | None = None) -> MeanTime:
    trials = tuple(Trial(2 + k, time=time) for k, time in enumerate(times))
    return MeanTime(trials, timing, expected)


def test_four_trials_have_student_s_interval_by_their_own_scatter():
    """Against scipy's t-test."""
    interval = ttest_1samp(TIMES, 0.0).confidence_interval(0.95)
    found = mean_of(*TIMES, timing=7.0)
    assert found.mean == pytest.approx(0.5 * (interval.low + interval.high))
    assert found.half_width == pytest.approx(0.5 * (interval.high - interval.low))


@pytest.mark.parametrize("times", [(24.1,), (24.1, 24.5), (24.1, 24.5, 23.8)])
def test_up_to_three_trials_have_the_posterior_s_interval(times):
    """Bayes' theorem by integration over all standard deviations. Likelihood normal, prior of the
    mean flat, of the variance scaled inverse chi^2 with two degrees and 0.1 s (Gelman et al. 2013,
    Bayesian Data Analysis, sec. 3.3, from memory)."""
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


def test_log_and_compare_say_the_same_of_the_same_trials(tmp_path, figures):
    book, case = tmp_path / "trials.csv", cup_case()
    for time in TIMES:
        logged = figures("log", book, "--hole", "8 mm", "--time", f"{time} s")
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
    assert table.trials[1].place == "row 3 (no. 2)"
    with pytest.raises(CaseError, match=r'row 5 \(no. x\), time = "2.1.1 s" is not a time'):
        trials(tmp_path, "no.;time [s]\n\n1;2,3\n\nx;2,1,1\n")
    assert [trial.time for trial in table.trials] == [24.1, 24.5, None, None, None]
    assert counted(table.trials) == {"plugged": 1, "tips": 1, "failed": 1}
    told = overlay_of(cup_case(), table)
    assert told.times == (24.1, 24.5)
    assert "1 plugged, 1 tipped, 1 failed" in told.words
    angle = fit_angle(trial_cases(cup_case(), table))
    assert (angle.plugged, angle.started) == (1, 2)


def test_a_suspect_trial_is_asked_about_and_can_be_taken_back(tmp_path, capsys, answer):
    book = tmp_path / "trials.csv"
    for time in (1.71, 1.73, 1.69):
        log_trial(book, hole="20 mm", time=time)
    before = book.read_text(encoding="utf-8")
    add = ("log", book, "--hole", "20 mm", "--time", "17.6 s")
    assert call(*add) == 2, "nobody at the terminal to answer"
    assert "17.6 s, is suspect: 10 times the others' 1.71 s. It was not" in capsys.readouterr().err
    assert book.read_text(encoding="utf-8") == before
    assert "The last trial is an outlier" in answer(*add, "--yes")
    assert "Removed: 20,17.6," in answer("log", book, "--undo")
    assert book.read_text(encoding="utf-8") == before


def test_a_logbook_whose_only_row_was_taken_back_goes_on(tmp_path):
    book = tmp_path / "trials.csv"
    log_trial(book, hole="20 mm", time="1,71 s")
    undo_trial(book)
    with pytest.raises(CaseError, match="no row to remove"):
        undo_trial(book)
    assert log_trial(book, hole="20 mm", time="1,73 s").times == (1.73,)


def test_a_trial_that_tips_is_logged_as_what_it_is(tmp_path, written):
    book, case = tmp_path / "trials.csv", written(CASE_TEXT)
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


def trials(folder: Path, text: str) -> Any:
    path = folder / "measured.csv"
    path.write_text(text, encoding="utf-8")
    return read_measured(path)


def test_a_row_is_one_trial_in_si_units(tmp_path):
    table = trials(
        tmp_path,
        "# a remark\n\nhole [mm],hole_uncertainty [um],mass [g],mass_uncertainty [mg],"
        "time [min],time_uncertainty [s],outcome\n8,50,0.2e3,500,1.5,0.1,sinks\n",
    )
    (trial,) = table.trials
    assert trial.row == 4
    assert trial.hole == pytest.approx(0.008)
    assert trial.hole_uncertainty == pytest.approx(5e-5)
    assert trial.mass == pytest.approx(0.2)
    assert trial.mass_uncertainty == pytest.approx(5e-4)
    assert trial.time == pytest.approx(90.0)
    assert trial.time_uncertainty == pytest.approx(0.1)
    assert not trial.plugged


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_comma_semicolon_and_tab_separate_the_cells_and_a_plugged_trial_has_no_time(
    tmp_path, separator
):
    text = "hole [mm],time [s],outcome\n1,,plugged\n8.5,12.5,\n".replace(",", separator)
    first, second = trials(tmp_path, text).trials
    assert (first.plugged, second.plugged) == (True, False)
    assert second.hole == pytest.approx(0.0085)


def test_a_spreadsheet_with_decimal_commas_and_a_byte_order_mark_is_read(tmp_path):
    table = trials(tmp_path, "\ufeffHole (mm);Time (s);Outcome;\r\n8,5;12,25;sinks;\r\n;;;\r\n")
    assert table.trials[0].hole == pytest.approx(0.0085)
    assert table.trials[0].time == pytest.approx(12.25)
    assert len(table.trials) == 1


def test_a_trace_is_told_by_its_heading(tmp_path):
    rows = "\n".join(f"{40 * k},{25 + k}" for k in range(6))
    table = trials(tmp_path, "t [ms],draft [mm]\n" + rows)
    assert isinstance(table, Trace)
    assert table.t == pytest.approx(0.04 * np.arange(6))
    assert table.draft == pytest.approx(1e-3 * (25 + np.arange(6)))
    assert table.draft_uncertainty is None


@pytest.mark.parametrize("text", ["time [s]\n12.5\n", f"{','.join(COLUMNS)}\n1,,,12.5,,\n"])
def test_what_a_trial_leaves_out_or_leaves_empty_comes_from_the_case(tmp_path, text):
    case, table = cup_case(), trials(tmp_path, text)
    (one,) = trial_cases(case, table)
    assert (table.trials[0].hole, table.trials[0].mass) == (None, None)
    assert (one.case.hole.diameter, one.case.total_mass) == (case.hole.diameter, case.total_mass)
    assert known_timing(one.trial, one.case) == pytest.approx(0.1)
    assert one.hole_uncertainty == 0.0


def test_a_trial_has_its_own_hole_and_its_own_mass(tmp_path):
    """The bowl was weighed: its mass is the trial's, whatever the drill took out."""
    table = trials(tmp_path, "hole [mm],mass [g],time [s]\n12,230,6.1\n")
    (one,) = trial_cases(cup_case(), table)
    assert one.case.hole.diameter == pytest.approx(0.012)
    assert one.case.total_mass == pytest.approx(0.230)
    assert one.case.bowl.hole_radius == pytest.approx(0.006)


@pytest.fixture
def result(tmp_path: Path) -> Path:
    return write_result(tmp_path / "run.h5")


def test_a_comparison_takes_the_trials_of_its_own_bowl(tmp_path, result):
    case = read_result(result).case
    text = "hole [mm],mass [g],time [s],time_uncertainty [s]\n"
    text += "20,200,2.1,0.1\n20.05,200.5,2.3,0.1\n12,200,6.0,0.1\n20,260,1.5,0.1\n"
    overlay = overlay_of(case, trials(tmp_path, text))
    assert overlay.times == pytest.approx([2.1, 2.3])
    assert overlay.left_out == 2
    assert overlay.time == pytest.approx(2.2)
    # two degrees for 0.1 s known beforehand and one for the standard deviation of the two
    scatter = ((2 * 0.1**2 + 0.5 * 0.2**2) / 3) ** 0.5
    assert overlay.timed.uncertainty == pytest.approx(scatter / 2**0.5)


@pytest.mark.slow
def test_the_command_sets_the_trials_beside_the_run(result, figures, answer, written):
    table = written("hole [mm],time [s]\n20,2.2\n20,2.4\n", "trials.csv")
    measured = figures("compare", result, "--measured", table)["measured"]
    assert (measured["trials"], measured["sinking_time_s"]) == (2, pytest.approx(2.3))
    expected = 2.3 / float(filling(2).t[-1])
    assert measured["ratio_to_flow"] == pytest.approx(expected, rel=1e-6)
    assert "measured, 2 trials" in answer("compare", result, "--measured", table)


def test_a_trace_lies_on_the_draft_panel(tmp_path, result):
    fill = filling(30)
    rows = "\n".join(f"{t:.4f},{d * 1e3:.4f}" for t, d in zip(fill.t, fill.draft, strict=True))
    read_back = read_result(result)
    overlay = overlay_of(read_back.case, trials(tmp_path, f"t [s],draft [mm]\n{rows}\n9,60\n"))
    assert overlay.reached == pytest.approx(float(fill.t[-1]), abs=1e-3) or overlay.reached == 9
    figure = comparison_figure(replace(compare(read_back), overlay=overlay), HEIGHT)
    save_figure(figure, tmp_path / "slide.png")
    dots = [line for line in figure.axes[0].lines if line.get_color() == MEASURED.colour]
    assert max(len(line.get_xdata()) for line in dots) >= 30
    assert any("measured" in text.get_text() for text in figure.axes[0].texts)


def test_axes_of_the_comparison_have_about_five_round_ticks(result):
    """Common practice, no source: readable from afar, no useless decimals."""
    read_back = read_result(result)
    draft, *others = comparison_figure(compare(read_back), HEIGHT).axes
    ticks = draft.get_yticks()
    assert 3 <= len(ticks) <= 6, ticks
    assert all(tick == round(tick) for tick in ticks), ticks
    for axes in (draft, *others[-1:]):
        axes.figure.canvas.draw()
        low, high = axes.get_xlim()
        shown = [t for t in axes.xaxis.get_major_ticks() if low <= t.get_loc() <= high]
        words = [t.label1.get_text() for t in shown]
        assert 3 <= len(words) <= 6, words
        assert not any(word.endswith("0") and "." in word for word in words), words


def test_what_lies_beyond_the_panel_is_named_and_air_of_later_is_not(
    tmp_path: Path, result: Path
) -> None:
    found = compare(read_result(result))
    late = replace(found, closed_air=(9.0, 1e-6))
    assert (late.remarks, late.air_before_the_rim) == (found.remarks, None)
    text = "hole [mm],time [s]\n20,2.2\n20,2.1\n20,2.3\n20,9\n"
    late = replace(late, overlay=overlay_of(found.case, trials(tmp_path, text)))
    axes = comparison_figure(late, HEIGHT).axes[0]
    bars = [bar for bars in axes.collections for bar in bars.get_segments()]
    assert max(float(bar[:, 0].max()) for bar in bars) <= axes.get_xlim()[1]
    shown = [one.get_text() for one in axes.texts]
    assert "trials, also 9.00 s \N{RIGHTWARDS ARROW}" in shown
    assert "air closed off" not in shown
