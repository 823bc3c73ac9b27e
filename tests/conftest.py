"""How the tests are started, and that none of them asks another machine for anything."""

import json
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import lines_out
from console import Told, call


def pytest_configure() -> None:
    """Children must hear Ctrl-C, which a shell's background job ignores and hands on so."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    lines_out.keep_watch()


@pytest.fixture(autouse=True)
def no_way_out() -> Iterator[None]:
    """Fails a test after which something was refused, whoever caught the refusal."""
    yield
    tried = list(lines_out.tried)
    lines_out.tried.clear()
    assert not tried, f"tried to leave this machine: {', '.join(tried)}"


@pytest.fixture
def written(tmp_path: Path) -> Callable[..., Path]:
    """A file of a text in the test's folder, a case unless it is named."""

    def write(text: str, name: str = "cup.toml") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def answer(capsys: pytest.CaptureFixture[str]) -> Told:
    """What the console script answers, its exit status 0."""

    def told(*arguments: object) -> str:
        capsys.readouterr()
        assert call(*arguments) == 0
        return capsys.readouterr().out

    return told


@pytest.fixture
def figures(answer: Told) -> Callable[..., Any]:
    """The JSON that the console script answers."""
    return lambda *arguments: json.loads(answer(*arguments, "--json"))


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str]) -> Told:
    """What the console script says as it refuses its arguments: status 2, one line, no answer."""

    def told(*arguments: object) -> str:
        capsys.readouterr()
        assert call(*arguments) == 2
        shown = capsys.readouterr()
        assert shown.out == ""
        assert shown.err.startswith("sinkbowl: "), shown.err
        assert shown.err.count("\n") == 1, shown.err
        return shown.err

    return told
