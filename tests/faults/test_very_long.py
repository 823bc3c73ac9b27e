"""Inputs of a million rows or letters: refused in a sentence, in moments, wherever they stand."""

import resource
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from console import call
from sinkbowl.bowl.mesh_file import check_counts
from sinkbowl.bowl.outline import read_outline
from sinkbowl.case.case import load_case, parse_case
from sinkbowl.case.schema import LENGTH
from sinkbowl.common.errors import LONGEST, CaseError, InputRefused, ResultError
from sinkbowl.common.units import read_quantity
from sinkbowl.files.result import read_result
from sinkbowl_post.fitting.fit import fit
from sinkbowl_post.measured.measured import read_measured
from synthetic import CASE_TEXT, edited, write_result

MILLION = 1_000_000
BLANKS = " " * 120_000
"""As many as a cell of a table may have; patterns that try all ways would take hours."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Processor time of what stands in the ``with`` block."""
    begun = time.process_time()
    yield
    assert time.process_time() - begun < seconds


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to be in, with a case and a result."""
    monkeypatch.chdir(tmp_path)
    Path("cup.toml").write_text(CASE_TEXT)
    write_result(Path("run.h5"), frames=2, cells=(6, 8), steps=20)
    return tmp_path


@pytest.mark.parametrize(
    "command",
    [
        "fit cup.toml --measured trials.csv",
        "compare run.h5 --measured trials.csv",
        "curves run.h5 --measured trials.csv",
        "log trials.csv --time 1.8s --case cup.toml",
        "sweep cup.toml --table values.csv",
    ],
)
def test_a_million_rows_are_refused_at_once(place, refused, command):
    Path("trials.csv").write_text("time [s]\n" + "1.8\n" * MILLION)
    Path("values.csv").write_text("hole.diameter [mm]\n" + "20\n" * MILLION)
    before = {path.name: path.stat().st_size for path in place.iterdir()}
    with within(10.0):
        told = refused(*command.split())
    assert f"Has {MILLION} rows" in told or "is too long for a table of runs" in told
    assert {path.name: path.stat().st_size for path in place.iterdir()} == before


def test_trials_of_a_thousand_bowls_are_not_fitted_together(place, refused):
    """Each would be solved for seconds, and each pair of holes fitted."""
    rows = "".join(f"{15 + k / 100},3\n" for k in range(1000))
    Path("trials.csv").write_text("hole [mm],time [s]\n" + rows)
    with within(5.0):
        told = refused("fit", "cup.toml", "--measured", "trials.csv")
    assert "1000 different holes and masses" in told


@pytest.mark.slow
def test_a_trace_of_ninety_thousand_instants_is_fitted_in_little_memory(place):
    """A film of six minutes at 240 frames a second; a matrix of them would take 65 GB."""
    count = 90_000
    course = "".join(f"{2 * k / count:.7f},{25 + 35 * k / count:.6f}\n" for k in range(count))
    Path("trace.csv").write_text("t [s],draft [mm]\n" + course)
    few = course.splitlines(keepends=True)[:: count // 300]
    Path("few.csv").write_text("t [s],draft [mm]\n" + "".join(few))
    expected = fit("cup.toml", "few.csv").models["quasi-static"]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    found = fit("cup.toml", "trace.csv").models["quasi-static"]
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024 < 300_000_000
    assert found.coefficient.value == pytest.approx(expected.coefficient.value, rel=1e-3)


def case_of(text: str) -> Callable[[], object]:
    return lambda: parse_case(text, Path(), "cup.toml")


def table_of(text: str) -> Callable[[], object]:
    def read() -> object:
        Path("long.csv").write_text(text)
        return read_measured(Path("long.csv"))

    return read


def outline_of(text: str) -> Callable[[], object]:
    def read() -> object:
        Path("outline.csv").write_text(text)
        return read_outline(Path("outline.csv"))

    return read


LETTERS = "x" * 900_000  # of a case, which has at most a million bytes

READ: dict[str, Callable[[], object]] = {
    "a title": case_of(f'title = "{LETTERS}"\n' + CASE_TEXT.partition("\n")[2]),
    "a key": case_of(f"{LETTERS} = 1\n{CASE_TEXT}"),
    "a table": case_of(f"{CASE_TEXT}\n[{LETTERS}]\n"),
    "a key of many parts": case_of("a" + ".a" * 400_000 + " = 1"),
    "a nest": case_of("a = " + "[" * 900_000),
    "a nest of lines": case_of("a = " + "[\n" * 400_000),
    "a quantity": case_of(CASE_TEXT.replace("20 mm", "20 " + " " * 900_000 + "mm")),
    "a share": lambda: read_quantity("1/2 a" + " " * MILLION + "b", LENGTH),
    "a number": lambda: read_quantity("1" * MILLION, LENGTH),
    "a number over lines": lambda: read_quantity("1 \n" + " " * MILLION + "\n1", LENGTH),
    "a heading": table_of(f"a{BLANKS}b,time [s]\n1,2\n"),
    "half a unit": table_of(f"a [{BLANKS}b,time [s]\n1,2\n"),
    "a unit": table_of(f"time [{BLANKS}s b{BLANKS}]\n1\n"),
    "a cell": table_of(f"time [s]\n1{BLANKS}s\n"),
    "a remark": table_of(f"time [s],remarks\n1,{LETTERS}\n"),
    "a row of an outline": outline_of("0,1" + " " * 900_000 + "x\n"),
    "a heading of an outline": outline_of("r [" + " " * 900_000 + "x\n"),
    "words of an outline": outline_of(LETTERS),
}


@pytest.mark.parametrize("name", READ)
def test_a_million_letters_are_refused_at_once_in_a_short_message(place, name):
    with within(5.0), pytest.raises((CaseError, InputRefused)) as refused:
        READ[name]()
    if isinstance(refused.value, CaseError):
        assert len(str(refused.value)) <= LONGEST + 3


@pytest.mark.parametrize("suffix", [".ply", ".vtk"])
def test_empty_lines_of_a_mesh_are_looked_through_in_a_moment(suffix):
    """Counts are looked for at the beginnings of lines."""
    with within(5.0):
        check_counts(b"\n" * 5 * MILLION, suffix)
    with pytest.raises(InputRefused, match="counts 9999999999"):
        check_counts(b"\n \telement vertex 9999999999\n\n \tPOINTS 9999999999\n", suffix)


def test_a_title_of_a_million_letters_is_too_long_for_a_case_file(place):
    Path("long.toml").write_text(f'title = "{"x" * MILLION}"\n')
    with pytest.raises(CaseError, match="is too long for a case file"):
        load_case("long.toml")


@pytest.mark.parametrize("name", ["title", "outcome", "message", "notes", "case_path"])
def test_a_result_with_a_million_letters_in_its_words_is_refused(place, refused, name):
    with edited(Path("run.h5")) as file:
        file.attrs[name] = "x" * MILLION
    with pytest.raises(ResultError, match=f"{MILLION} letters"):
        read_result("run.h5")
    assert len(refused("compare", "run.h5")) < LONGEST


def test_a_table_of_curves_with_a_long_title_is_refused(place, refused):
    """It would be drawn."""
    assert call("curves", "run.h5", "-o", "curves.csv") == 0
    text = Path("curves.csv").read_text(encoding="utf-8")
    Path("curves.csv").write_text(text.replace("Steel tea cup", "x" * 100_000))
    assert "has 100012 letters" in refused("curves", "curves.csv", "-o", "curves.png")
