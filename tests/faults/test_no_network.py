"""Nothing is asked of a network: the commands where there is no way out, all tests under watch."""

import contextlib
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

import lines_out
from faults.killed_runs import CUP

COMMANDS = """
import socket, sys
with socket.socket() as line:
    line.settimeout(1.0)
    assert line.connect_ex(("192.0.2.1", 80)) == 101, "there is a network here"
from sinkbowl_post.cli import main
for command in (
    ["check", "cup.toml"],
    ["run", "cup.toml", "-o", "cup.h5"],
    ["compare", "cup.h5", "-o", "cup.png"],
):
    try:
        main(command)
    except SystemExit as end:
        assert not end.code, (command, end.code)
"""
"""192.0.2.1 is kept for documentation (RFC 5737); error 101 is Linux's ENETUNREACH."""


@pytest.mark.slow
def test_check_run_and_compare_work_without_a_network(tmp_path):
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-n", "true"], capture_output=True).returncode:
        pytest.skip("no network namespace may be made here (needs Linux, and root or its like)")
    (tmp_path / "cup.toml").write_text(CUP)
    done = subprocess.run(
        [unshare, "-n", sys.executable, "-c", COMMANDS],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    made = {path.name for path in tmp_path.iterdir()}
    assert made == {"cup.toml", "cup.h5", "cup.png"}


ELSEWHERE = "192.0.2.1"  # kept for documentation (RFC 5737): nobody's


def refused() -> list[str]:
    """What the watch noted; emptied, so that the test that provoked it does not fail for it."""
    noted = list(lines_out.tried)
    lines_out.tried.clear()
    return noted


def test_a_connection_to_another_machine_and_asking_for_its_address_are_refused_in_every_test():
    with socket.socket() as line, socket.socket(type=socket.SOCK_DGRAM) as letters:
        for leave in (
            lambda: line.connect((ELSEWHERE, 80)),
            lambda: line.connect_ex((ELSEWHERE, 80)),
            lambda: letters.sendto(b"", (ELSEWHERE, 9)),
            lambda: socket.getaddrinfo("bowls.invalid", 80),
            lambda: socket.gethostbyname("bowls.invalid"),
        ):
            with pytest.raises(lines_out.WayOut):
                leave()
    assert refused() == [
        *[f"socket.connect '{ELSEWHERE}'"] * 2,
        f"socket.sendto '{ELSEWHERE}'",
        "socket.getaddrinfo 'bowls.invalid'",
        "socket.gethostbyname 'bowls.invalid'",
    ]


def test_a_refusal_that_is_caught_is_noted_all_the_same():
    """So the fixture in conftest.py fails a test whose code swallows errors."""
    with socket.socket() as line, contextlib.suppress(Exception):
        line.connect((ELSEWHERE, 80))
    assert refused() == [f"socket.connect '{ELSEWHERE}'"]


@pytest.mark.parametrize(("family", "host"), [("AF_INET", "127.0.0.1"), ("AF_INET6", "::1")])
def test_loopback_is_open(family, host):
    with socket.socket(getattr(socket, family)) as ear, socket.socket(ear.family) as line:
        try:
            ear.bind((host, 0))
        except OSError:
            pytest.skip(f"this machine has no {host}")
        ear.listen(1)
        line.connect(ear.getsockname())
    assert refused() == []


@pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="sockets with a path are POSIX")
def test_a_socket_with_a_path_is_open(tmp_path):
    with socket.socket(socket.AF_UNIX) as ear, socket.socket(socket.AF_UNIX) as line:
        ear.bind(str(tmp_path / "ear"))
        ear.listen(1)
        line.connect(str(tmp_path / "ear"))
    assert refused() == []


LEAVES = """
import socket

def test_leaves():
    with socket.socket() as line:
        try:
            line.connect(("192.0.2.1", 80))
        except Exception:
            pass

def test_stays():
    pass
"""


@pytest.mark.slow
def test_a_test_that_leaves_fails_and_the_next_one_does_not(tmp_path):
    """pytest itself, with this suite's conftest.py, on two tests made for it."""
    tests = Path(lines_out.__file__).parent
    shutil.copy(tests / "conftest.py", tmp_path)
    (tmp_path / "test_two.py").write_text(LEAVES)
    options = ["-q", "-p", "no:cacheprovider", "--rootdir", str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *options, "-o", f"pythonpath={tests}", str(tmp_path)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert "2 passed, 1 error" in done.stdout
    assert "tried to leave this machine: socket.connect '192.0.2.1'" in done.stdout
