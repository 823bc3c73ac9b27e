"""A run compared with the reduced models, and several with each other: figures, table, slide."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from console import call
from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import Sinking
from sinkbowl.files.result import read_result
from sinkbowl_post.comparing.compare import Comparison, compare, discharge_coefficient
from sinkbowl_post.comparing.figure import comparison_figure, horizon
from sinkbowl_post.comparing.runs import MOST, Run, read_runs
from sinkbowl_post.comparing.runs_figure import draft_residual, runs_figure
from sinkbowl_post.drawing import spread
from sinkbowl_post.exporting.export import export_history
from sinkbowl_post.measured.measured import read_measured
from sinkbowl_post.pages.printing import json_text, print_table
from sinkbowl_post.style import LINES, save_figure, seconds
from synthetic import (
    BASE,
    DENSITY,
    DISCHARGE,
    HEIGHT,
    HOLE,
    MASS,
    RADIUS,
    edited,
    filling,
    keep_steps,
    write_result,
)

HOLE_AREA = math.pi * HOLE**2 / 4
TRIALS = "hole [mm], time [s]\n20, 2.31\n20, 2.35\n"


def sinking(model: str, slower: float = 1.0, outcome: str = "sinks") -> Sinking:
    """The closed-form filling, run ``slower`` times slower."""
    fill = filling(300)
    t = fill.t * slower
    return Sinking(
        model=model,
        t=t,
        draft=fill.draft,
        speed=np.gradient(fill.draft, t),
        inner_volume=fill.inner_volume,
        inner_level=fill.inner_level,
        head=fill.head,
        hole_flow=fill.hole_flow / slower,
        events={"start": 0.0, "rim_under": float(t[-1])},
        outcome=outcome,
        sinking_time=float(t[-1]),
    )


def never(model: str) -> Sinking:
    whole = sinking(model, outcome="floats part-sunk")
    return replace(whole, events={"start": 0.0}, sinking_time=None)


def comparison(**models: Sinking) -> Comparison:
    named = {name.replace("_", "-"): model for name, model in models.items()}
    return Comparison("Test cup", sinking("flow"), named, dict.fromkeys(("flow", *named), 0.62))


def test_torricelli_filling_gives_back_its_discharge_coefficient():
    """The history is the closed form with C_d = 0.62, so the quotient of integrals is exact."""
    assert discharge_coefficient(sinking("flow"), HOLE_AREA) == pytest.approx(DISCHARGE, rel=1e-9)


def test_waves_on_the_inner_surface_hardly_move_the_coefficient():
    """A 3 % wave on flow and head, many periods long, averages out."""
    calm = sinking("flow")
    wave = 1 + 0.03 * np.sin(60 * calm.t)
    rough = replace(calm, hole_flow=calm.hole_flow * wave, head=calm.head * wave)
    assert discharge_coefficient(rough, HOLE_AREA) == pytest.approx(DISCHARGE, rel=5e-3)


def test_what_happens_after_the_rim_is_under_leaves_the_coefficient_alone():
    calm = sinking("flow")
    later = {"t": 2 * calm.t[-1], "head": 0.0, "hole_flow": 9.0, "inner_volume": 1.0}
    longer = {name: np.append(getattr(calm, name), value) for name, value in later.items()}
    assert discharge_coefficient(replace(calm, **longer), HOLE_AREA) == pytest.approx(DISCHARGE)


def test_no_head_means_no_coefficient():
    still = sinking("flow")
    assert discharge_coefficient(replace(still, head=-still.head), HOLE_AREA) is None


def test_a_ratio_is_the_models_time_over_the_flow_solvers():
    both = comparison(heave=sinking("heave", slower=0.9), falling=never("falling"))
    assert both.ratio("heave") == pytest.approx(0.9)
    assert both.ratio("falling") is None


@pytest.mark.slow
def test_every_model_is_solved_for_the_case_in_the_result_file(tmp_path):
    """The run is the closed form of the quasi-static filling: that model must agree with it. The
    model's clock starts with the hole dry, the closed form's with the hole full: in between lies
    the base's thickness over the speed in the hole, at the dry draft by Torricelli's law."""
    figures = compare(read_result(write_result(tmp_path / "run.h5"))).as_dict()
    assert set(figures["reduced"]) == {"corrected", "quasi-static", "heave", "falling"}
    dry_draft = MASS / (DENSITY * math.pi * RADIUS**2)
    first = BASE / (DISCHARGE * math.sqrt(2 * GRAVITY * dry_draft))
    expected = 1 + first / figures["flow"]["sinking_time_s"]
    ratio = figures["reduced"]["quasi-static"]["ratio_to_flow"]
    assert ratio == pytest.approx(expected, rel=2e-4), f"{ratio:.6f} against {expected:.6f}"
    for model in figures["reduced"].values():
        assert model["ratio_to_flow"] == pytest.approx(
            model["sinking_time_s"] / figures["flow"]["sinking_time_s"]
        )


def test_the_table_has_every_model_and_its_time(capsys):
    print_table(comparison(heave=sinking("heave"), falling=never("falling")).table)
    text = capsys.readouterr().out
    time = seconds(filling(2).t[-1])
    for word in ("flow solver", "heave", "falling", time, "1.000", "floats part-sunk"):
        assert word in text, text


def test_the_figure_names_every_curve_beside_it_and_has_no_legend():
    quick = {"corrected": 0.98, "heave": 0.97, "falling": 0.1}
    models = {name: sinking(name, slower) for name, slower in quick.items()}
    figure = comparison_figure(comparison(**models, quasi_static=never("q")), HEIGHT)
    texts = [text.get_text() for text in figure.axes[0].texts]
    for line in LINES.values():
        assert any(text.startswith(line.name) for text in texts), texts
    assert all(axes.get_legend() is None for axes in figure.axes)
    assert "[s]" in figure.axes[0].get_xlabel()
    assert "[mm]" in figure.axes[0].get_ylabel()


@pytest.mark.slow
def test_the_command_prints_the_same_figures_as_json_and_draws_the_slide(tmp_path, figures):
    path = write_result(tmp_path / "run.h5")
    told = figures("compare", path, "-o", tmp_path / "slide.svg")
    assert told == json.loads(json.dumps(compare(read_result(path)).as_dict()))
    assert (tmp_path / "slide.svg").exists()


def test_a_far_slower_model_does_not_squeeze_the_others():
    both = comparison(heave=sinking("heave", 1.1), quasi_static=sinking("quasi-static", 8.0))
    assert horizon(both) < 1.7 * filling(2).t[-1]


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_the_figure_is_drawn_without_warnings(tmp_path, suffix):
    both = comparison(heave=sinking("heave", 0.04), falling=never("falling"))
    save_figure(comparison_figure(both, HEIGHT), tmp_path / f"slide{suffix}")
    assert (tmp_path / f"slide{suffix}").stat().st_size > 10_000


def test_the_exported_history_has_names_units_and_every_step(tmp_path):
    result = read_result(write_result(tmp_path / "run.h5", steps=50))
    path = tmp_path / "run.csv"
    assert export_history(result, path) == 50
    header = path.read_text().splitlines()[0].split(",")
    assert header[:2] == ["t [s]", "draft [m]"]
    columns = np.loadtxt(path, delimiter=",", skiprows=1)
    assert columns[:, 1] == pytest.approx(result.history["draft"], rel=1e-8)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The same closed-form filling twice, once with few steps."""
    folder = tmp_path_factory.mktemp("runs")
    return [write_result(folder / "first.h5"), write_result(folder / "second.h5", steps=90)]


@pytest.fixture(scope="module")
def runs(files: list[Path]) -> list[Run]:
    return read_runs(files)


@pytest.mark.slow
def test_several_runs_are_a_list_of_what_each_alone_says(files, figures):
    """The figures of one run do not depend on its company."""
    alone = [figures("compare", path) for path in files]
    assert figures("compare", *files) == {"runs": alone}
    assert "runs" not in alone[0]


def test_the_table_has_a_row_for_each_run(files, answer, written):
    trials = written(TRIALS, "trials.csv")
    lines = answer("compare", *files, "--measured", trials).splitlines()
    interval = read_result(files[0]).interval
    ratio = 2.33 / interval.time  # mean of the trials over the best time
    for name in ("first", "second"):
        row = [line for line in lines if line.split()[:1] == [name]]
        assert len(row) == 1, lines
        assert f"{ratio:.3f}" in row[0], row


def test_a_script_gives_trials_as_a_file_or_as_times_and_gets_what_the_command_prints(
    files, figures, written
):
    trials = written(TRIALS, "trials.csv")
    printed = figures("compare", files[0], "--measured", trials)
    assert json.loads(json_text(compare(files[0], measured=trials).as_dict())) == printed
    times = [f"{trial.time} s" for trial in read_measured(trials).trials]
    assert compare(files[0], measured=times).as_dict()["measured"] == printed["measured"]


def test_a_bowl_beside_the_map_has_the_heave_model_with_the_interval_of_theory(tmp_path):
    path = write_result(tmp_path / "held.h5")
    with edited(path) as file:
        file.attrs["case_text"] += '\n[start]\nkind = "held"\ndraft = "30 mm"\n'
    found = compare(path)
    assert found.corrected.best is not None
    rows = {row[0]: row for row in found.table.rows}
    assert "corrected" not in rows
    assert "±" in rows["heave"][1]
    assert "theory alone: the correction is from bowls that were set down" in found.remarks


def test_a_draft_is_compared_with_the_heave_models_at_the_same_time(runs):
    """Read off both histories by hand at half the sinking time."""
    run = runs[0]
    t, apart = draft_residual(run)
    k = len(t) // 2
    heave = run.comparison.models["heave"]
    after = int(np.searchsorted(heave.t, t[k]))
    low, high = sorted((heave.draft[after - 1], heave.draft[after]))
    draft = run.comparison.flow.draft[k] - apart[k]
    assert low <= draft <= high
    ends = (run.comparison.flow.sinking_time, heave.sinking_time)
    assert t[-1] <= min(end for end in ends if end is not None)


def test_the_slide_names_every_run_and_marks_where_its_rim_is_under(runs):
    figure = runs_figure(runs)
    texts = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert {"first", "second", "rim under", "over the rim", "full"} <= set(texts)
    assert all(axes.get_legend() is None for axes in figure.axes)
    rim = runs[0].result.case.bowl.rim_height * 1e3
    draft = figure.axes[0]
    marks = [line for line in draft.lines if line.get_marker() == "o"]
    assert len(marks) == len(runs)
    for mark in marks:
        assert np.asarray(mark.get_ydata())[0] == pytest.approx(rim, rel=1e-6)


def test_runs_far_apart_get_their_own_unit_of_time(tmp_path, runs):
    """A run killed early lasts a tenth of the other: no panel may squeeze it into a corner."""
    short = write_result(tmp_path / "short.h5", status="running")
    keep_steps(short, 20)
    figure = runs_figure([runs[0], *read_runs([short])])
    assert figure.axes[2].get_xlabel() == "time / own sinking time"
    assert figure.axes[0].lines[-1].get_xdata()[-1] == pytest.approx(1.0)


def test_the_slide_is_written(files, tmp_path):
    slide = tmp_path / "both.png"
    assert call("compare", *files, "-o", slide) == 0
    assert slide.stat().st_size > 10_000


def test_what_cannot_be_compared_is_refused_in_one_line(files, tmp_path, refused, written):
    forces, trials = tmp_path / "forces.png", written(TRIALS.replace("20,", "33,"), "trials.csv")
    assert "twice" in refused("compare", files[0], files[0])
    assert "too many" in refused("compare", *[files[0]] * (MOST + 1))
    assert "one run" in refused("compare", *files, "--forces", forces)
    assert "33" in refused("compare", *files, "--measured", trials)
    assert not forces.exists()


def test_names_are_moved_no_farther_than_they_must():
    """Least squares by hand: two names at one place part by half the gap each; others stay."""
    assert spread([0.1, 0.5, 0.5, 0.9], 0.2) == pytest.approx([0.1, 0.4, 0.6, 0.9])
    assert spread([0.2, 0.8], 0.1) == [0.2, pytest.approx(0.8)]
    crowded = spread([0.5] * 5, 0.1)
    assert crowded == pytest.approx([0.3, 0.4, 0.5, 0.6, 0.7])
    assert math.isclose(sum(crowded), 2.5)
