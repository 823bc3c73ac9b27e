"""Nothing is asked of a network: the commands in a network namespace that holds no way out."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

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
def test_check_run_and_compare_work_without_a_network(tmp_path: Path) -> None:
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
