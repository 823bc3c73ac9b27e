"""Places that cannot be written: one clear message, the results that were there intact."""

import itertools
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from console import call
from faults.killed_runs import CUP, differences
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import RunError
from sinkbowl.files.result import read_result
from sinkbowl.running.runner import run

CASE = parse_case(CUP, Path(), "cup.toml")


def mounted(folder: Path, options: str) -> Iterator[Path]:
    """A small file system in memory at a folder, where one may be mounted."""
    command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode != 0:
        pytest.skip(f"nothing may be mounted here: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 2.6 MB: a result of the cup fits, but not with what is written beside it."""
    yield from mounted(tmp_path, "size=2600k")


@pytest.mark.slow
def test_a_disk_that_fills_up_stops_the_run_and_keeps_its_last_checkpoint(
    small_disk, tmp_path_factory, monkeypatch
):
    """A clock that ticks as steps are made brings a checkpoint every twenty, on any machine."""
    ticks = itertools.count()
    monkeypatch.setattr("sinkbowl.running.runner.monotonic", lambda: 0.001 * next(ticks))
    monkeypatch.setattr("sinkbowl.running.runner.CHECKPOINT_SHARE", 1.0)
    path = small_disk / "cup.h5"
    says = r"cup\.h5: cannot be written any more \(No space left"
    with pytest.raises(RunError, match=says) as why:
        run(CASE, path, frame_interval=0.01, checkpoint_every=0.02)
    assert "continue with --resume" in str(why.value)
    assert [file.name for file in small_disk.iterdir()] == ["cup.h5"]
    kept = read_result(path)
    assert kept.status == "running"
    assert len(kept.history["t"]) > 10
    roomy = tmp_path_factory.mktemp("roomy")
    moved = roomy / "cup.h5"
    moved.write_bytes(path.read_bytes())
    run(CASE, moved, resume=True)
    run(CASE, roomy / "whole.h5", frame_interval=0.01)
    assert differences(roomy / "whole.h5", moved) == []


def test_a_full_disk_spares_the_result_that_was_to_be_replaced(small_disk):
    path = small_disk / "cup.h5"
    run(CASE, path, frame_interval=1.0)
    before = path.read_bytes()
    (small_disk / "filler").write_bytes(b"x" * (os.statvfs(small_disk).f_bavail * 4096 - 50_000))
    with pytest.raises(RunError, match="No space left on device") as why:
        run(CASE, path, overwrite=True, frame_interval=0.01)
    assert "No part of the run is kept" in str(why.value)
    assert path.read_bytes() == before


LIMITED = """
import resource, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from faults.killed_runs import CUP
from sinkbowl_post.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
main(["run", sys.argv[2], "-o", sys.argv[3]])
"""


@pytest.mark.slow
def test_a_file_that_may_not_grow_ends_the_process_in_order(tmp_path):
    """Exit status 1 and one message; HDF5 left to itself ends such a process with a crash."""
    case = tmp_path / "cup.toml"
    case.write_text(CUP)
    tests = str(Path(__file__).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, tests, str(case), str(tmp_path / "cup.h5")],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1, done
    assert "cup.h5: cannot be written any more (File too large)" in done.stderr
    assert done.stderr.count("\n") == 1
    assert sorted(file.name for file in tmp_path.iterdir()) == ["cup.h5", "cup.toml"]
    assert read_result(tmp_path / "cup.h5").status == "running"


def test_a_read_only_folder_is_told_before_the_work_begins(tmp_path, capsys):
    """A file system mounted read-only: file permissions do not hold root back."""
    case, folder = tmp_path / "cup.toml", tmp_path / "fixed"
    case.write_text(CUP)
    folder.mkdir()
    for fixed in mounted(folder, "ro,size=1m"):
        assert call("run", case, "-o", fixed / "cup.h5") == 2
        shown = capsys.readouterr().err
        assert "cup.h5" in shown
        assert "not writable" in shown or "Read-only file system" in shown
        assert list(fixed.iterdir()) == []


def test_a_folder_that_takes_no_files_is_told(tmp_path, capsys):
    """Nobody, root included, makes files in /proc."""
    case = tmp_path / "cup.toml"
    case.write_text(CUP)
    assert call("run", case, "-o", "/proc/self/cup.h5") == 2
    shown = capsys.readouterr().err
    assert shown.startswith("sinkbowl: /proc/self/cup.h5: ")
    assert shown.count("\n") == 1


RUNNER = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from faults.killed_runs import sink
print("ready", flush=True)
sink(Path(sys.argv[2]))
"""


@pytest.mark.slow
def test_two_runs_on_one_output_the_second_is_refused(tmp_path, capsys):
    """Two real processes; the first one's result is as if the second had not been."""
    case, path = tmp_path / "cup.toml", tmp_path / "cup.h5"
    case.write_text(CUP)
    tests = str(Path(__file__).parents[1])
    first = subprocess.Popen([sys.executable, "-c", RUNNER, tests, str(path)], stdout=-1)
    while not path.exists():
        assert first.poll() is None
        time.sleep(0.01)
    first.send_signal(signal.SIGSTOP)
    for option in ("--overwrite", "--resume"):
        assert call("run", case, "-o", path, option) == 2
        shown = capsys.readouterr().err
        assert "cup.h5: another run is writing it" in shown, shown
    first.send_signal(signal.SIGCONT)
    first.communicate()
    assert first.returncode == 0
    assert read_result(path).status == "finished"


def test_what_a_killed_run_left_beside_a_result_is_taken_over(tmp_path):
    path = tmp_path / "cup.h5"
    (tmp_path / "cup.h5.part").write_bytes(b"half of something")
    (tmp_path / "cup.h5.new").write_bytes(b"half of a copy")
    run(CASE, path, frame_interval=1.0)
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]
