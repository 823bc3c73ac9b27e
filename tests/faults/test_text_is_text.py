"""Titles and names are shown as the text that they are: nothing in them steers what shows them."""

import ast
import csv
import json
import re
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from matplotlib.text import Text

import sinkbowl
import sinkbowl_post
from console import call
from faults.killed_runs import CUP
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import ResultError
from sinkbowl.common.shown import for_csv, for_csv_remark, for_figure, for_terminal, from_csv
from sinkbowl.design.charting.chart import Chart, chart
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.index import Sweep, SweepRun
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.pages.chart_page import chart_csv
from sinkbowl_post.pages.run_page import sweep_page
from sinkbowl_post.reference_curves.table import read_table
from sinkbowl_post.style import show_plainly
from synthetic import CASE_TEXT, edited, write_result

TITLES = {
    "a closing tag": "[/red] oops",
    "a pair of tags": "[red]x[/red]",
    "a link of a terminal": "[link=file:///etc/passwd]click[/link]",
    "half a formula": "$x^{2$",
    "a formula": "cost $5 and $6",
    "a macro": r"\alpha _x_ $\includegraphics{/etc/passwd}$",
    "colours of a terminal": "a\x1b[31mred",
    "a title for the window": "a\x1b]0;owned\x07b",
    "eight-bit controls": "a\x9b31mred\x85b",
    "a bell and a return": "all is well\x07\rsinkbowl: all is lost",
    "turned around": "cup\u202egnp.h5",
    "an Arabic mark": "cup\u061cgnp.h5",
    "a computed cell": "=cmd|' /C calc'!A0",
    "a computed cell behind a blank": " \t@SUM(1,1)",
    "a computed cell behind a comma": 'a,=1+1;"-2',
    "a wide sign": "\uff1d1+1",
    "a remark": "# not a remark",
    "an apostrophe": "'=quoted",
    "a face": ":skull: x",
    "a page": "<script>alert(1)</script>&amp;",
    "fields of a format": "%s {0} {title!r} 100 %",
    "two lines": "one\ntwo",
}

STEERS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
COMPUTED = re.compile(r"\s*[=+\-@\uff1d\uff0b\uff0d\uff20]")


def titled(title: str, text: str = CASE_TEXT) -> str:
    """Text of a case with a title; TOML's strings are written like JSON's."""
    body = "\n".join(line for line in text.splitlines() if not line.startswith("title"))
    written = json.dumps(title).replace("\x7f", "\\u007f")
    return f"title = {written}\n{body}\n"


def result_of(path: Path, title: str) -> Path:
    write_result(path, frames=2, cells=(12, 16), steps=40)
    with edited(path) as file:
        file.attrs["title"] = title
        file.attrs["case_text"] = titled(title)
    return path


TRIALS = "hole [mm],time [s]\n20,1.9\n20,2.0\n20,2.1\n"


def without_blanks(text: str) -> str:
    return "".join(text.split())


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    ["a closing tag", "half a formula", "a title for the window", "a computed cell", "a face"],
)
def test_every_command_shows_a_title_as_it_is(tmp_path, monkeypatch, capsys, name):
    """Exit status 0 of all, their files written, the title whole and nothing that steers."""
    monkeypatch.chdir(tmp_path)
    title = TITLES[name]
    result_of(Path("run.h5"), title)
    result_of(Path("other.h5"), title)
    Path("cup.toml").write_text(titled(title), encoding="utf-8")
    Path("trials.csv").write_text(TRIALS)
    shown = {}
    for command in (
        "check cup.toml --figure check.png --sheet sheet.pdf",
        "compare run.h5 -o compare.svg --forces forces.png",
        "compare run.h5 other.h5 -o several.pdf",
        "compare run.h5 --json",
        "curves run.h5 other.h5 -o curves.png -o curves.csv",
        "fit cup.toml --measured trials.csv -o fit.png",
        "film run.h5 -o film.png",
        "export run.h5 -o run.csv",
    ):
        assert call(*command.split()) == 0, command
        told = capsys.readouterr()
        assert not STEERS.search(told.out + told.err), command
        shown[command.split()[0] + command[-4:]] = told.out
        for word in command.split():
            if word.endswith((".png", ".pdf", ".svg", ".csv")) and word != "trials.csv":
                assert Path(word).stat().st_size > 0, word
    assert json.loads(shown["comparejson"])["title"] == title
    for page in ("check.pdf", "compare.png", "fit.png"):
        assert without_blanks(for_terminal(title)) in without_blanks(shown[page]), page


@pytest.mark.parametrize("name", TITLES)
def test_no_text_of_a_figure_is_read_as_a_formula(tmp_path, name):
    result = read_result(result_of(tmp_path / "run.h5", TITLES[name]))
    figure = comparison_figure(compare(result), 0.06)
    show_plainly(figure)
    texts = [text for text in figure.findobj(Text) if isinstance(text, Text)]
    heading = for_figure(" ".join(TITLES[name].split()))
    assert heading in [text.get_text() for text in texts]
    assert not any(text.get_parse_math() for text in texts)
    assert not any(STEERS.search(text.get_text()) for text in texts)
    figure.canvas.draw()


@pytest.mark.slow
@pytest.mark.parametrize("name", TITLES)
def test_no_cell_of_a_table_is_computed_and_the_title_comes_back(tmp_path, name):
    """Cells as Python's csv cuts them, with commas and with semicolons."""
    table = tmp_path / "curves.csv"
    call("curves", result_of(tmp_path / "run.h5", TITLES[name]), "-o", table)
    lines = table.read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if not line.startswith("#")]
    assert len(rows) == 2
    cells = dict(zip(*csv.reader(rows), strict=True))
    assert not COMPUTED.match(cells["title"])
    assert read_table(table)[0].title == for_figure(" ".join(TITLES[name].split()))


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("name", TITLES)
def test_no_remark_of_a_table_holds_a_cell_that_is_computed(name, separator):
    """A spreadsheet takes a remark for cells like all others."""
    line = "# sinkbowl; " + for_csv_remark(f"x; {TITLES[name]}")
    (cells,) = csv.reader(StringIO(line), delimiter=separator)
    assert not any(COMPUTED.match(cell) for cell in cells)


@pytest.mark.parametrize("name", TITLES)
def test_a_sweep_is_shown_as_it_is(capsys, name):
    """What an index says of its runs comes from a file as well."""
    title = TITLES[name]
    run = SweepRun("1-x", "1.h5", (0.04,), ("0.04",), "failed", reason=f"why: {title}")
    sweep = Sweep(Path("there"), title, CUP, "", ("hole.diameter",), (run,))
    sweep_page(sweep)
    shown = capsys.readouterr().out
    assert not STEERS.search(shown)
    assert without_blanks(for_terminal(title)) in without_blanks(shown)
    assert not STEERS.search(repr(sweep))


@pytest.mark.parametrize("name", TITLES)
def test_errors_and_pages_of_python_do_not_steer_either(name):
    title = TITLES[name]
    assert str(ResultError(f"{title}: is no file")) == for_terminal(f"{title}: is no file")
    case = parse_case(titled(title), Path(), "cup.toml")
    assert not STEERS.search(repr(case) + repr(sinkbowl.check(case)))


@pytest.fixture(scope="module")
def some_chart() -> Chart:
    return chart(parse_case(CASE_TEXT, Path(), "cup.toml"))


@pytest.mark.slow
@pytest.mark.parametrize("name", TITLES)
def test_the_table_of_a_chart_begins_with_a_remark_that_is_not_computed(some_chart, name):
    case = replace(some_chart.case, title=TITLES[name])
    first, second, heading, *_ = chart_csv(replace(some_chart, case=case)).splitlines()
    assert heading.startswith("hole [mm],")
    for separator in ",;":
        assert not any(COMPUTED.match(cell) for cell in first.split(separator))
    assert second.startswith("# Time until the rim is under")


@pytest.mark.slow
def test_a_report_shows_a_title_as_text(tmp_path):
    """The one title that a page could take for its own; jinja escapes it."""
    result = result_of(tmp_path / "run.h5", "<script>alert('x')</script>\x1b")
    assert call("report", result, "-o", tmp_path / "run.html") == 0
    page = (tmp_path / "run.html").read_text(encoding="utf-8")
    assert "<script>alert" not in page
    assert not STEERS.search(page)
    assert "&lt;script&gt;alert" in page


def test_cells_come_back_as_they_were():
    for text in ("plain", "=1", "'=1", "'plain", "# a", "-5", "''x", ""):
        assert from_csv(for_csv(text)) == text


ALLOWED = {"cli.py", "tracing/clip.py", "pages/printing.py", "pages/progress.py"}
"""Where something is printed; progress.py shows no words but its own."""


def prints(tree: ast.AST) -> list[int]:
    """Lines that print, or make or name what prints."""
    found = []
    for node in ast.walk(tree):
        name = {ast.Name: "id", ast.Attribute: "attr", ast.alias: "name"}.get(type(node))
        if name and getattr(node, name) in ("print", "echo", "secho", "Console", "rich.console"):
            found.append(getattr(node, "lineno", 0))
        if isinstance(node, ast.Attribute) and node.attr in ("stdout", "stderr"):
            found.append(node.lineno)
        if isinstance(node, ast.ImportFrom) and node.module == "rich.console":
            found.append(node.lineno)
    return found


def test_nothing_prints_but_by_the_one_way():
    """By the syntax tree of the post-processor, so that a line break or another name hides none."""
    package = Path(sinkbowl_post.__file__).parent
    for file in sorted(package.rglob("*.py")):
        name = file.relative_to(package).as_posix()
        found = prints(ast.parse(file.read_text(encoding="utf-8")))
        assert name in ALLOWED or not found, f"{name}, lines {found}: use pages/printing.py"
    assert prints(ast.parse("from rich.console import Console as C\nC()"))
    assert prints(ast.parse("import typer as t\nt.echo(title)"))
