"""The console script as tests call it."""

import pytest

from sinkbowl_post.cli import main


def call(*arguments: object) -> int:
    """Exit status of the console script with these arguments."""
    with pytest.raises(SystemExit) as stop:
        main([str(argument) for argument in arguments])
    return int(stop.value.code or 0)
