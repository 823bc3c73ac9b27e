"""Ends that come from outside: a signal to end, too little memory."""

import os
import signal
import subprocess
import time

import pytest

from coarse_cups import THICK
from console import started
from sinkbowl.files.result import read_result

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name != "posix", reason="signals and limits as POSIX knows them"),
]


def test_a_run_that_is_told_to_end_ends_as_with_ctrl_c(tmp_path):
    """What `kill`, `timeout` and a machine that shuts down send."""
    (tmp_path / "cup.toml").write_text(THICK.format(density=1500))
    run = subprocess.Popen(
        started("run", "cup.toml", "-o", "cup.h5"), cwd=tmp_path, stderr=-1, text=True
    )
    while not (tmp_path / "cup.h5").exists():
        assert run.poll() is None
        time.sleep(0.01)
    run.send_signal(signal.SIGTERM)
    _, told = run.communicate(timeout=120)
    assert run.returncode == 1
    assert "the run stopped: stopped by hand" in told
    assert "--resume" in told
    assert read_result(tmp_path / "cup.h5").status == "stopped"
    assert {path.name for path in tmp_path.iterdir()} == {"cup.toml", "cup.h5"}


@pytest.mark.parametrize("megabytes", [120, 200, 300, 450])
def test_too_little_memory_is_one_sentence(tmp_path, megabytes):
    """Libraries would end the process as they load, with words of their own."""
    limited = f'ulimit -v {megabytes * 1000}; exec "$@"'
    (tmp_path / "cup.toml").write_text(THICK.format(density=1500))
    done = subprocess.run(
        ["bash", "-c", limited, "bash", *started("check", "cup.toml")],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("sinkbowl: only ")
    assert "(ulimit -v)" in done.stderr
    assert done.stderr.count("\n") == 1
