"""No text of a figure covers another one: all figures that need no run, of all shipped cases."""

from pathlib import Path

import pytest
from matplotlib.figure import Figure

from sinkbowl.case.case import load_case
from sinkbowl.design.charting.chart import chart
from sinkbowl_post import style
from sinkbowl_post.chart.figure import chart_figure
from sinkbowl_post.check.sheet import trial_sheet
from sinkbowl_post.check.sheet_pdf import sheet_figure
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.comparing.forces import forces_figure
from sinkbowl_post.comparing.runs import Run, read_runs
from sinkbowl_post.comparing.runs_figure import runs_figure
from sinkbowl_post.fitting.figure import fit_figure
from sinkbowl_post.fitting.fit import fit
from sinkbowl_post.reference_curves import curves as drawing
from sinkbowl_post.reference_curves.curves import curves
from synthetic import write_faster_result, write_result
from text_boxes import overlapping

CASES = Path(__file__).parents[2] / "cases"
SHIPPED = sorted(path.stem for path in CASES.glob("*.toml"))
TRIALS = CASES / "measured" / "steel-cup-trials.csv"


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> list[Run]:
    """Two made-up runs."""
    folder = tmp_path_factory.mktemp("runs")
    one = write_result(folder / "one.h5")
    other = write_faster_result(folder / "other.h5", "40 mm", 4.0)
    return read_runs([one, other])


def test_seven_cases_are_shipped():
    assert len(SHIPPED) == 7


@pytest.mark.slow
@pytest.mark.parametrize("name", SHIPPED)
def test_of_a_sheet(name):
    assert overlapping(sheet_figure(trial_sheet(load_case(CASES / f"{name}.toml")))) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in SHIPPED if name != "open-ring"])
def test_of_a_chart(name):
    found = chart(load_case(CASES / f"{name}.toml"), model="heave")
    assert overlapping(chart_figure(found)) == []


def test_of_a_run_its_forces_and_two_runs(runs):
    for one in runs:
        rim = one.result.case.bowl.rim_height
        assert overlapping(comparison_figure(one.comparison, rim)) == []
        assert overlapping(forces_figure(one.result)) == []
    assert overlapping(runs_figure(runs)) == []


@pytest.mark.slow
def test_of_a_fit_to_many_holes():
    found = fit(load_case(CASES / "steel-cup.toml"), TRIALS)
    assert overlapping(fit_figure(found)) == []


@pytest.mark.parametrize("table", ["steel-cup", "beech-dish-brass-ring"])
def test_of_curves_and_reasons(table, tmp_path, monkeypatch):
    drawn: list[Figure] = []
    for place in (drawing, style):
        monkeypatch.setattr(place, "save_figure", lambda figure, *_, **__: drawn.append(figure))
    path = CASES / "curves" / f"{table}.csv"
    curves([path], [tmp_path / "c.png"], reasons=tmp_path / "r.png", model="heave")
    assert len(drawn) == 2
    for figure in drawn:
        assert overlapping(figure) == []
