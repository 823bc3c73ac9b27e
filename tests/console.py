"""The console script as tests call it."""

import re
from collections.abc import Callable

import pytest

from sinkbowl_post.cli import main


def call(*arguments: object) -> int:
    """Exit status of the console script with these arguments."""
    with pytest.raises(SystemExit) as stop:
        main([str(argument) for argument in arguments])
    return int(stop.value.code or 0)


Refused = Callable[..., str]  # the fixture `refused` of conftest.py, for tests to name


def last_line(errors: str, waiting: str) -> str:
    """The last line on stderr; all before it have to tell of a wait: each begins like a pattern."""
    *before, last = errors.splitlines()
    assert all(re.match(waiting, line) for line in before), errors
    return last
