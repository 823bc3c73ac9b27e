"""What scripts and notebooks import: functions, examples that run, results that show themselves."""

import doctest
import inspect
import json
import pickle
import pydoc
import runpy
from importlib import import_module
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest

import sinkbowl
import sinkbowl_post
from coarse_cups import STEEL, case_of
from console import python
from sinkbowl.case.starter import shipped_case, shipped_cases
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import TextTable
from sinkbowl.design.check_page import check_page
from sinkbowl.design.checking import check
from sinkbowl.files.record import DATASETS
from sinkbowl.files.result import Result, read_result
from sinkbowl.running.runner import RunResult
from sinkbowl.sweeps.index import Sweep, SweepRun
from sinkbowl_post.pages.printing import json_text
from synthetic import write_result

PACKAGES = (sinkbowl, sinkbowl_post)
NAMES = [(package, name) for package in PACKAGES for name in package.__all__]
FUNCTIONS = {
    sinkbowl: ("load_case", "check", "size", "run", "sweep", "read_result"),
    sinkbowl_post: ("compare", "curves", "fit", "film", "report", "export", "trace", "log_trial"),
}


def test_importing_the_packages_imports_nothing_heavy():
    heavy = ("numpy", "h5py", "matplotlib", "numba", "pydantic", "meshio", "scipy")
    script = (
        "import sys, sinkbowl, sinkbowl_post\n"
        "dir(sinkbowl), dir(sinkbowl_post)\n"
        f"print([name for name in {heavy} if name in sys.modules])"
    )
    assert python(script) == "[]\n"


@pytest.mark.parametrize(
    ("package", "name"), [(package, name) for package in PACKAGES for name in FUNCTIONS[package]]
)
def test_what_scripts_call_are_functions_that_can_be_pickled(package, name):
    function = getattr(package, name)
    assert inspect.isfunction(function)
    assert function.__name__ == name
    assert name in dir(package)
    assert pickle.loads(pickle.dumps(function)) is function


def test_scripts_give_what_a_person_would(tmp_path):
    """Names of files as text, quantities with their units."""
    case = shipped_case("steel-cup-wide-hole")
    sized = sinkbowl.size(str(case), "0,5 s")
    assert sized.value == sinkbowl.size(sinkbowl.load_case(case), 0.5).value
    assert sinkbowl.check(str(case)).verdict == "sinks"
    with pytest.raises(CaseError, match='time = "1" has no unit'):
        sinkbowl.size(case, "1")
    result = str(write_result(tmp_path / "run.h5"))
    assert sinkbowl_post.compare(result).ratio("heave")
    assert sinkbowl_post.export(result, str(tmp_path / "run.csv"))
    sinkbowl_post.film(result, str(tmp_path / "run.png"))
    assert (tmp_path / "run.png").exists()


def test_figures_that_are_arrays_are_lists_in_json_however_short():
    told = json.loads(json_text({"one": np.array([1.5]), "two": np.array([1.0, np.nan])}))
    assert told == {"one": [1.5], "two": [1.0, None]}


@pytest.mark.parametrize(("package", "name"), NAMES)
def test_every_public_name_is_there_with_a_docstring(package, name):
    thing = getattr(package, name)
    assert callable(thing)
    assert len(inspect.getdoc(thing) or "") > 40
    assert list(inspect.signature(thing).parameters)


@pytest.mark.parametrize("package", PACKAGES)
def test_help_tells_of_every_public_name(package):
    told = pydoc.render_doc(package, renderer=pydoc.plaintext)
    missing = [name for name in package.__all__ if f"{name}(" not in told]
    assert not missing


@pytest.mark.parametrize("first", ["", "import sinkbowl_post.filming.film, sinkbowl_post.cli\n"])
def test_names_are_the_same_whatever_was_imported_before(first):
    script = (
        f"{first}from sinkbowl_post import compare, film\n"
        "import inspect\n"
        "print(inspect.isfunction(film), inspect.isfunction(compare))"
    )
    assert python(script) == "True True\n"


@pytest.mark.parametrize("package", PACKAGES)
def test_what_is_not_there_is_an_attribute_error(package):
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = package.nothing


def _with_examples() -> list[str]:
    """Names of all modules whose docstrings have examples."""
    found = []
    for package in PACKAGES:
        home = Path(str(package.__file__)).parent
        for source in sorted(home.rglob("*.py")):
            if ">>> " in source.read_text(encoding="utf-8"):
                parts = source.relative_to(home.parent).with_suffix("").parts
                found.append(".".join(parts).removesuffix(".__init__"))
    return found


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the shipped cases, the wide cup on a grid that takes a second, and a result."""
    folder = tmp_path_factory.mktemp("workshop")
    cases = shipped_case("steel-cup").parent
    copytree(cases, folder / "cases")
    wide = folder / "cases" / "steel-cup-wide-hole.toml"
    with wide.open("a", encoding="utf-8") as file:
        file.write('\n[flow]\ncell = "4 mm"\nbase_cell = "4 mm"\n')
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("name", _with_examples())
def test_examples_in_docstrings_give_what_they_say(name, workshop, tmp_path, monkeypatch):
    copytree(workshop, tmp_path, dirs_exist_ok=True)
    if name == "sinkbowl_post":
        write_result(tmp_path / "cup.h5", frames=3)
    monkeypatch.chdir(tmp_path)
    done = doctest.testmod(import_module(name))
    assert done.attempted > 0
    assert done.failed == 0


def test_names_of_the_version_before_are_still_there():
    assert sinkbowl.Levels is sinkbowl.Grids
    assert sinkbowl.run_levels is sinkbowl.run_grids


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("shown") / "cup.h5"))


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
