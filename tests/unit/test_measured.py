"""Measured tables: units, separators, trials and traces; and what compare does with them."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sinkbowl.files.result import read_result
from sinkbowl_post.cli import main
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.fitting.trial_cases import trial_cases
from sinkbowl_post.measured.mean_time import known_timing
from sinkbowl_post.measured.measured import Trace, Trials, read_measured
from sinkbowl_post.measured.overlay import MEASURED, overlay_of
from sinkbowl_post.style import save_figure
from synthetic import HEIGHT, filling, write_result
from trials import cup_case


def read(folder: Path, text: str) -> Trials | Trace:
    path = folder / "measured.csv"
    path.write_text(text, encoding="utf-8")
    return read_measured(path)


def trials(folder: Path, text: str) -> Trials:
    table = read(folder, text)
    assert isinstance(table, Trials)
    return table


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


def test_a_plugged_trial_has_no_time(tmp_path):
    table = trials(tmp_path, "hole [mm],time [s],outcome\n1,,plugged\n8,12.5,\n")
    assert [trial.plugged for trial in table.trials] == [True, False]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_comma_semicolon_and_tab_separate_the_cells(tmp_path, separator):
    text = "hole [mm],time [s]\n8.5,12.5\n".replace(",", separator)
    assert trials(tmp_path, text).trials[0].hole == pytest.approx(0.0085)


def test_a_spreadsheet_with_decimal_commas_and_a_byte_order_mark_is_read(tmp_path):
    table = trials(tmp_path, "\ufeffHole (mm);Time (s);Outcome;\r\n8,5;12,25;sinks;\r\n;;;\r\n")
    assert table.trials[0].hole == pytest.approx(0.0085)
    assert table.trials[0].time == pytest.approx(12.25)
    assert len(table.trials) == 1


def test_a_trace_is_told_by_its_heading(tmp_path):
    rows = "\n".join(f"{40 * k},{25 + k}" for k in range(6))
    table = read(tmp_path, "t [ms],draft [mm]\n" + rows)
    assert isinstance(table, Trace)
    assert table.t == pytest.approx(0.04 * np.arange(6))
    assert table.draft == pytest.approx(1e-3 * (25 + np.arange(6)))
    assert table.draft_uncertainty is None


def test_what_a_trial_leaves_out_comes_from_the_case(tmp_path):
    case = cup_case()
    (one,) = trial_cases(case, trials(tmp_path, "time [s]\n12.5\n"))
    assert one.case.hole.diameter == case.hole.diameter
    assert one.case.total_mass == case.total_mass
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
    assert overlay.uncertainty == pytest.approx(scatter / 2**0.5)


@pytest.mark.slow
def test_the_command_sets_the_trials_beside_the_run(tmp_path, result, capsys):
    table = tmp_path / "trials.csv"
    table.write_text("hole [mm],time [s]\n20,2.2\n20,2.4\n")
    with pytest.raises(SystemExit) as end:
        main(["compare", str(result), "--measured", str(table), "--json"])
    assert not end.value.code
    measured = json.loads(capsys.readouterr().out)["measured"]
    assert measured["trials"] == 2
    assert measured["sinking_time_s"] == pytest.approx(2.3)
    expected = 2.3 / float(filling(2).t[-1])
    assert measured["ratio_to_flow"] == pytest.approx(expected, rel=1e-6)
    with pytest.raises(SystemExit):
        main(["compare", str(result), "--measured", str(table)])
    assert "measured, 2 trials" in capsys.readouterr().out


def test_a_trace_lies_on_the_draft_panel(tmp_path, result):
    fill = filling(30)
    rows = "\n".join(f"{t:.4f},{d * 1e3:.4f}" for t, d in zip(fill.t, fill.draft, strict=True))
    read_back = read_result(result)
    overlay = overlay_of(read_back.case, read(tmp_path, f"t [s],draft [mm]\n{rows}\n9,60\n"))
    assert overlay.reached == pytest.approx(float(fill.t[-1]), abs=1e-3) or overlay.reached == 9
    figure = comparison_figure(compare(read_back), HEIGHT, overlay)
    save_figure(figure, tmp_path / "slide.png")
    dots = [line for line in figure.axes[0].lines if line.get_color() == MEASURED.colour]
    assert max(len(line.get_xdata()) for line in dots) >= 30  # type: ignore[arg-type]
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
    assert found.case is not None
    axes = comparison_figure(late, HEIGHT, overlay_of(found.case, trials(tmp_path, text))).axes[0]
    bars = [bar for bars in axes.collections for bar in bars.get_segments()]  # type: ignore[attr-defined]
    assert max(float(bar[:, 0].max()) for bar in bars) <= axes.get_xlim()[1]
    shown = [one.get_text() for one in axes.texts]
    assert "trials, also 9.00 s \N{RIGHTWARDS ARROW}" in shown
    assert "air closed off" not in shown
