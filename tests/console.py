"""The console script as tests call it."""

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sinkbowl_post.cli import main

MAIN = "from sinkbowl_post.cli import main; main()"
"""The console script, for a process of its own."""


def started(*arguments: object) -> list[str]:
    """The console script with these arguments as the command of a process."""
    return [sys.executable, "-c", MAIN, *map(str, arguments)]


def python(script: str, *arguments: object, cwd: Path | None = None, **environment: str) -> str:
    """What a script prints in a process of its own, which finds the tests; it has to succeed."""
    place = [str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")]
    done = subprocess.run(
        [sys.executable, "-c", script, *map(str, arguments)],
        cwd=cwd,
        capture_output=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, place)), **environment},
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode(errors="replace")


def call(*arguments: object) -> int:
    """Exit status of the console script with these arguments."""
    with pytest.raises(SystemExit) as stop:
        main([str(argument) for argument in arguments])
    return int(stop.value.code or 0)


Told = Callable[..., str]  # the fixtures `answer` and `refused` of conftest.py


def last_line(errors: str, waiting: str) -> str:
    """The last line on stderr; all before it have to tell of a wait: each begins like a pattern."""
    *before, last = errors.splitlines()
    assert all(re.match(waiting, line) for line in before), errors
    return last
