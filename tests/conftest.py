"""How the tests are started, and that none of them asks another machine for anything."""

import signal
from collections.abc import Iterator

import pytest

import lines_out


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
