"""What nobody foresaw ends with one line and a private file, on whatever terminal."""

import io
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from console import MAIN, call
from cups import cup_text


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of its own for what the program leaves behind, and a command that breaks."""
    monkeypatch.setattr("sinkbowl_post.unforeseen.user_state_path", lambda name: tmp_path / name)

    def broken(*_: object) -> None:
        raise ZeroDivisionError("float division\nby zero")

    monkeypatch.setattr("sinkbowl.case.case.load_case", broken)
    return tmp_path


def test_an_unforeseen_error_is_one_line_and_a_file_with_the_details(home, capsys):
    assert call("check", "my cup.toml") == 1
    shown = capsys.readouterr().err
    assert shown.startswith("sinkbowl: internal error (ZeroDivisionError: ")
    assert shown.count("\n") == 1
    (file,) = (home / "sinkbowl" / "errors").iterdir()
    assert str(file) in shown
    details = file.read_text()
    assert "Traceback" in details
    assert "'my cup.toml'" in details
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700


@pytest.mark.parametrize("how", ["link", "open"])
def test_details_are_not_written_through_a_link_nor_where_others_may_read(home, capsys, how):
    elsewhere, folder = home / "elsewhere", home / "sinkbowl" / "errors"
    elsewhere.mkdir()
    folder.parent.mkdir()
    folder.symlink_to(elsewhere) if how == "link" else folder.mkdir()
    folder.chmod(0o755)
    assert call("check", "c.toml") == 1
    shown = capsys.readouterr().err
    assert ("cannot be written" if how == "link" else "is open to other users") in shown
    assert shown.count("\n") == 1
    assert list(folder.iterdir()) == []


def test_only_the_last_details_are_kept(home):
    for _ in range(22):
        call("check", "c.toml")
    assert len([*(home / "sinkbowl" / "errors").iterdir()]) == 20


def test_too_little_memory_is_told(monkeypatch, capsys):
    def hungry(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr("sinkbowl.case.case.load_case", hungry)
    assert call("check", "c.toml") == 1
    assert capsys.readouterr().err.startswith("sinkbowl: out of memory")


@pytest.mark.slow
def test_a_terminal_that_knows_ascii_alone_gets_an_answer(tmp_path):
    """LC_ALL=C, and Python told to take it at its word; file names with bytes that are no text."""
    (tmp_path / "für.toml").write_text(cup_text(title="Schale für Tee 茶"), encoding="utf-8")
    without_title = cup_text().replace('title = ""', "")
    Path(os.fsdecode(bytes(tmp_path) + b"/n\xfc.toml")).write_text(without_title)
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    figures = ("--figure", "f.svg", "--sheet", "s.pdf", "--title", b"\xfc")
    asked: tuple[tuple[bytes | str, ...], ...] = (
        ("check", "für.toml", "--json"),
        ("check", b"n\xfc.toml", *figures),
        ("check", b"\xfc.toml"),
    )
    for arguments in asked:
        done = subprocess.run(
            [sys.executable, "-c", MAIN, *arguments],
            capture_output=True,
            env={**os.environ, **plain},
            cwd=tmp_path,
        )
        told = done.stdout or done.stderr
        assert done.returncode == (2 if arguments[-1] == b"\xfc.toml" else 0), told
        assert told.startswith(b"sinkbowl: ") == bool(done.returncode)
        assert done.stderr.count(b"\n") == (1 if done.returncode else 0)


def test_output_that_is_no_terminal_is_left_alone(monkeypatch):
    """A notebook's or a test's stream has no encoding to be told about."""
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    assert call("--version") == 0
