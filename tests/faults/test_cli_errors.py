"""Wrong input on the command line: exit status 2, one helpful message, no file left behind."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.main import get_command

from console import call, python
from cups import cup_text
from sinkbowl.common.errors import RunError
from sinkbowl.running.runner import RunResult
from sinkbowl_post.cli import app

GOOD = cup_text()

COMMANDS = (
    *("new", "check", "size", "chart", "run", "sweep", "compare", "curves", "fit", "film"),
    *("report", "export", "demo", "verify", "trace", "log"),
)


@pytest.fixture
def case(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A case in the folder that the test is in, beside a result that is to be kept."""
    monkeypatch.chdir(tmp_path)
    Path("cup.toml").write_text(GOOD)
    Path("old.h5").write_bytes(b"precious")
    return Path("cup.toml")


def contents() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in Path().iterdir()}


@pytest.mark.parametrize("command", ["check", "run"])
@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD.replace('"20 mm"', '"120 mm"'), ("hole.diameter", "120 mm")),
        (GOOD.replace("radius", "radios"), ("bowl.radios", "radius")),
        (GOOD.replace('"60 mm"', "60"), ("bowl.height",)),
        (GOOD.replace('"200 g"', '"200 s"'), ("bowl.mass", "200 s")),
        ("[bowl", ("cup.toml",)),
    ],
)
def test_a_wrong_case_is_told_by_file_and_key(case, refused, command, text, words):
    case.write_text(text)
    before = contents()
    shown = refused(command, case, *(["-o", "out.h5"] if command == "run" else []))
    for word in ("cup.toml", *words):
        assert word in shown, shown
    assert contents() == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ("run none.toml -o out.h5", "none.toml"),
        ("run cup.toml -o old.h5", "--overwrite"),
        ("run wrong.toml -o old.h5 --overwrite", "120 mm"),
        ("run cup.toml -o none/out.h5", "none does not exist"),
        ("new cup.toml", "Exists already"),
        ("new new.toml --shape jug", "cup, cone, cap, profile"),
        ("demo -o .", "not empty"),
        *(
            (f"{command} {run} -o {output}", run)
            for command, output in (
                ("compare", "a.png"),
                ("film", "a.mp4"),
                ("film", "a.gif"),
                ("export", "a.csv"),
            )
            for run in ("none.h5", "empty.h5", "old.h5")
        ),
    ],
)
def test_what_cannot_be_done_is_told_and_every_file_stays_as_it_was(case, refused, arguments, says):
    """Cases and results that are missing or wrong, and outputs that are there already."""
    Path("wrong.toml").write_text(GOOD.replace("20 mm", "120 mm"))
    Path("empty.h5").touch()
    before = contents()
    assert says in refused(*arguments.split())
    assert contents() == before


@pytest.mark.parametrize("shape", ["cup", "cone", "cap", "profile"])
def test_a_new_case_passes_its_own_check(tmp_path, shape, answer):
    path = tmp_path / "new.toml"
    assert call("new", path, "--shape", shape) == 0
    assert "rim is under" in answer("check", path)


def test_an_unknown_option_is_a_usage_error(case):
    assert call("run", case, "--fast") == 2


def run_that_ends(status: str) -> Callable[..., RunResult]:
    def run(case: object, output: Path, **options: object) -> RunResult:
        return RunResult(output, status, None, "stopped by hand at t = 0.1 s", 3, 0.1, float("nan"))

    return run


def test_a_stopped_run_gives_its_figures_and_exit_status_1(monkeypatch, capsys, case):
    monkeypatch.setattr("sinkbowl.running.runner.run", run_that_ends("stopped"))
    assert call("run", case, "-o", case.with_name("out.h5"), "--json") == 1
    shown = capsys.readouterr()
    figures = json.loads(shown.out)
    assert figures["status"] == "stopped"
    assert figures["volume_error"] is None
    assert "out.h5: the run stopped: stopped by hand" in shown.err


def test_a_run_that_breaks_down_says_why_with_exit_status_1(monkeypatch, capsys, case):
    def run(*arguments: object, **options: object) -> RunResult:
        raise RunError("the time step fell to 1e-9 s")

    monkeypatch.setattr("sinkbowl.running.runner.run", run)
    assert call("run", case, "-o", case.with_name("out.h5")) == 1
    assert capsys.readouterr().err == "sinkbowl: the time step fell to 1e-9 s\n"


def test_ctrl_c_outside_the_run_is_one_message_and_exit_status_1(monkeypatch, capsys, case):
    def interrupted(path: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("sinkbowl.case.case.load_case", interrupted)
    assert call("check", case) == 1
    assert capsys.readouterr().err.strip() == "sinkbowl: stopped by hand"


def test_a_finished_run_reads_well_and_has_exit_status_0(monkeypatch, case, answer):
    monkeypatch.setattr("sinkbowl.running.runner.run", run_that_ends("finished"))
    assert "3 steps" in answer("run", case, "-o", case.with_name("out.h5"))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_with_an_example(command, answer):
    assert f"Example: sinkbowl {command}" in answer(command, "--help")


def test_the_list_of_commands_is_complete():
    assert set(get_command(app).commands) == set(COMMANDS)


def test_help_comes_without_the_heavy_imports():
    script = (
        "import sys; from sinkbowl_post.cli import main\n"
        "try: main(['run', '--help'])\n"
        "except SystemExit: pass\n"
        "print([m for m in ('numba', 'matplotlib', 'scipy', 'h5py') if m in sys.modules])"
    )
    assert python(script).splitlines()[-1] == "[]"


def test_an_option_of_the_version_before_works_and_says_its_name_of_today(case, capsys):
    assert call("check", case, "--spread", "--json") == 0
    told = capsys.readouterr()
    assert "--spread is now called --uncertainty" in told.err
    assert "trial" in json.loads(told.out)
