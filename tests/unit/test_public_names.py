"""What scripts import: plain functions, listed, documented by examples that run as they stand."""

import doctest
import inspect
import json
import pickle
import pydoc
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest

import sinkbowl
import sinkbowl_post
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError
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
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


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
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.stdout.strip() == "True True", done.stderr


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
