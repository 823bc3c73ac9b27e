"""How the tests are started."""

import signal


def pytest_configure() -> None:
    """Children must hear Ctrl-C, which a shell's background job ignores and hands on so."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
