"""What a notebook needs: functions, results that show themselves, a script in cells."""

import runpy

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from sinkbowl.case.starter import shipped_cases
from sinkbowl.common.shown import TextTable
from sinkbowl.design.check_page import check_page
from sinkbowl.design.checking import check
from sinkbowl.files.record import DATASETS
from sinkbowl.files.result import Result, read_result
from sinkbowl.running.runner import RunResult
from sinkbowl.sweeps.index import Sweep, SweepRun
from synthetic import write_result


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("shown") / "cup.h5"))


@pytest.mark.slow
def test_the_functions_do_what_their_names_say(result, tmp_path):
    from sinkbowl_post import compare, export, film, report

    assert compare(result).flow.sinking_time == result.sinking_time
    film(result, str(tmp_path / "cup.gif"))
    export(result, str(tmp_path / "cup.csv"))
    report(result, str(tmp_path / "cup.html"))
    assert sorted(file.name for file in tmp_path.iterdir()) == ["cup.csv", "cup.gif", "cup.html"]


def test_a_result_shows_its_case_how_it_ended_and_its_events(result):
    shown = repr(result)
    for words in (result.title, "finished", "2.11 s", "rim below the outer surface", "200 steps"):
        assert words in shown
    assert len(shown.splitlines()) < 12
    assert result._repr_html_().count("<tr>") == len(shown.splitlines()) - 1


def test_a_history_has_units_and_meanings_and_prints_short(result):
    """Units and meanings are those of the file's own table."""
    history = result.history
    for dataset in DATASETS:
        if dataset.group == "history":
            assert history.units[dataset.column] == dataset.units
            assert history.meanings[dataset.column] == dataset.description
            assert isinstance(history[dataset.column], np.ndarray)
    lines = repr(history).splitlines()
    assert lines[0].startswith("200 steps, ")
    assert "draft [m]" in lines[1]
    assert len(lines) == 8
    assert f"{history['t'][-1]:.4g}" in lines[-1]
    with pytest.raises(KeyError, match="not a column; there are t, draft"):
        _ = history["depth"]


def test_an_empty_history_prints_as_well(tmp_path):
    empty = read_result(write_result(tmp_path / "empty.h5", steps=2))
    short = type(empty.history)({name: column[:0] for name, column in empty.history.items()})
    assert repr(short).startswith("0 steps")


def test_a_check_shows_its_page():
    checked = check(case_of(STEEL))
    assert repr(checked) == check_page(checked.as_dict())


def test_other_results_show_themselves_in_a_few_lines(tmp_path):
    case = case_of(STEEL)
    assert "hole   40 mm" in repr(case)
    assert "mass   200 g" in repr(case)
    done = RunResult(tmp_path / "a.h5", "finished", 0.5, "sinks", 10, 2.0, 1e-15, ("hole closed",))
    assert "0.500 s" in repr(done)
    assert "hole closed" in repr(done)
    run = SweepRun("1-40mm", "1-40mm.h5", (0.04,), ("40mm",), "finished", 0.25, "sinks")
    swept = Sweep(tmp_path, "Cup", "", "", ("hole.diameter",), (run,))
    assert [line.split() for line in repr(swept).splitlines()[1:]] == [
        ["run", "hole.diameter", "rim", "under", "status"],
        ["1", "40", "mm", "250", "ms", "finished"],
    ]
    for thing in (case, done, swept):
        assert thing._repr_html_().startswith("<table>")


def test_what_stands_in_a_table_cannot_be_html():
    """A title comes from a file, and files come from strangers."""
    html = TextTable([("a", "<script>")], "<b>", ("h", "<i>")).html
    assert "&lt;script&gt;" in html
    assert "<b>" not in html
    assert "<i>" not in html
    assert TextTable([("a", "1"), ("bb", "22")]).text == "  a   1\n  bb  22"


@pytest.mark.slow
def test_the_script_in_cells_runs_as_it_is(tmp_path, monkeypatch, capsys):
    script = shipped_cases()["steel-cup"].parent / "tea_timer.py"
    assert script.read_text(encoding="utf-8").count("# %%") > 6
    monkeypatch.chdir(tmp_path)
    runpy.run_path(str(script), run_name="__main__")
    told = capsys.readouterr().out
    for words in ("Stainless cup, 40 mm hole", "SINKS", "quasi-static", "fastest: ", "frame "):
        assert words in told
    made = {file.name for file in (tmp_path / "tea-timer").iterdir()}
    assert {"cup-40.h5", "comparison.png", "cup.gif", "jet.vtu"} <= made
