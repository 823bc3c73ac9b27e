"""Several runs compared in one call: table, JSON, slide, and what is refused."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from console import call
from sinkbowl.files.result import read_result
from sinkbowl_post.comparing.runs import MOST, Run, read_runs
from sinkbowl_post.comparing.runs_figure import draft_residual, runs_figure
from sinkbowl_post.drawing import spread
from synthetic import keep_steps, write_result

TRIALS = "hole [mm], time [s]\n20, 2.31\n20, 2.35\n"


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The same closed-form filling twice, once with few steps."""
    folder = tmp_path_factory.mktemp("runs")
    return [
        write_result(folder / "first.h5"),
        write_result(folder / "second.h5", steps=90),
    ]


@pytest.fixture(scope="module")
def runs(files: list[Path]) -> list[Run]:
    return read_runs(files)


def told(capsys: pytest.CaptureFixture[str], *words: object) -> dict[str, object]:
    assert call("compare", *words, "--json") == 0
    figures: dict[str, object] = json.loads(capsys.readouterr().out)
    return figures


@pytest.mark.slow
def test_several_runs_are_a_list_of_what_each_alone_says(files, capsys):
    """The figures of one run do not depend on its company."""
    alone = [told(capsys, path) for path in files]
    assert told(capsys, *files) == {"runs": alone}
    assert "runs" not in alone[0]


def test_the_table_has_a_row_for_each_run(files, tmp_path, capsys):
    trials = tmp_path / "trials.csv"
    trials.write_text(TRIALS)
    assert call("compare", *files, "--measured", trials) == 0
    lines = capsys.readouterr().out.splitlines()
    interval = read_result(files[0]).interval
    ratio = 2.33 / interval.time  # mean of the trials over the best time
    for name in ("first", "second"):
        row = [line for line in lines if line.split()[:1] == [name]]
        assert len(row) == 1, lines
        assert f"{ratio:.3f}" in row[0], row


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


def test_what_cannot_be_compared_is_refused_in_one_line(files, tmp_path, capsys):
    forces = tmp_path / "forces.png"
    trials = tmp_path / "trials.csv"
    trials.write_text(TRIALS.replace("20,", "33,"))
    for words, expected in (
        ((files[0], files[0]), "twice"),
        ([files[0]] * (MOST + 1), "too many"),
        ((*files, "--forces", forces), "one run"),
        ((*files, "--measured", trials), "33"),
    ):
        assert call("compare", *words) == 2
        shown = capsys.readouterr().err
        assert expected in shown
        assert shown.count("\n") == 1, shown
    assert not forces.exists()


def test_names_are_moved_no_farther_than_they_must():
    """Least squares by hand: two names at one place part by half the gap each; others stay."""
    assert spread([0.1, 0.5, 0.5, 0.9], 0.2) == pytest.approx([0.1, 0.4, 0.6, 0.9])
    assert spread([0.2, 0.8], 0.1) == [0.2, pytest.approx(0.8)]
    crowded = spread([0.5] * 5, 0.1)
    assert crowded == pytest.approx([0.3, 0.4, 0.5, 0.6, 0.7])
    assert math.isclose(sum(crowded), 2.5)
