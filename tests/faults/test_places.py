"""Places that cannot be written, and folders in which others write: one message, nothing lost."""

import itertools
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from coarse_cups import case_of
from console import call, started
from faults.killed_runs import CUP, differences
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import ResultError, RunError
from sinkbowl.files.result import read_result
from sinkbowl.files.work_file import WorkFile
from sinkbowl.running.ensemble_runs import Board, beside, clear_beside, left_beside
from sinkbowl.running.runner import Progress, run
from sinkbowl.sweeps.index import INDEX, Sweep, write_index
from synthetic import CASE_TEXT, write_result

CASE = parse_case(CUP, Path(), "cup.toml")
PRECIOUS = b"sixteen letters." * 40


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
from sinkbowl_post.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
main(["run", *sys.argv[1:]])
"""


@pytest.mark.slow
def test_a_file_that_may_not_grow_ends_the_process_in_order(tmp_path, written):
    """Exit status 1 and one message; HDF5 left to itself ends such a process with a crash."""
    case = written(CUP)
    command = [sys.executable, "-c", LIMITED, str(case), "-o", str(tmp_path / "cup.h5")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 1, done
    assert "cup.h5: cannot be written any more (File too large)" in done.stderr
    assert done.stderr.count("\n") == 1
    assert sorted(file.name for file in tmp_path.iterdir()) == ["cup.h5", "cup.toml"]
    assert read_result(tmp_path / "cup.h5").status == "running"


def test_a_read_only_folder_is_told_before_the_work_begins(tmp_path, refused, written):
    """A file system mounted read-only: file permissions do not hold root back."""
    case, folder = written(CUP), tmp_path / "fixed"
    folder.mkdir()
    for fixed in mounted(folder, "ro,size=1m"):
        shown = refused("run", case, "-o", fixed / "cup.h5")
        assert "cup.h5" in shown
        assert "not writable" in shown or "Read-only file system" in shown
        assert list(fixed.iterdir()) == []


def test_a_folder_that_takes_no_files_is_told(refused, written):
    """Nobody, root included, makes files in /proc."""
    case = written(CUP)
    assert "sinkbowl: /proc/self/cup.h5: " in refused("run", case, "-o", "/proc/self/cup.h5")


@pytest.mark.slow
def test_two_runs_on_one_output_the_second_is_refused(tmp_path, refused, written):
    """Two real processes; the first one's result is as if the second had not been."""
    case, path = written(CUP), tmp_path / "cup.h5"
    first = subprocess.Popen(started("run", case, "-o", path))
    while not path.exists():
        assert first.poll() is None
        time.sleep(0.01)
    first.send_signal(signal.SIGSTOP)
    for option in ("--overwrite", "--resume"):
        assert "cup.h5: another run is writing it" in refused("run", case, "-o", path, option)
    first.send_signal(signal.SIGCONT)
    assert first.wait() == 0
    assert read_result(path).status == "finished"


def test_what_a_killed_run_left_beside_a_result_is_taken_over(tmp_path):
    path = tmp_path / "cup.h5"
    (tmp_path / "cup.h5.part").write_bytes(b"half of something")
    (tmp_path / "cup.h5.new").write_bytes(b"half of a copy")
    run(CASE, path, frame_interval=1.0)
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


def a_socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))


def a_link(path: Path) -> None:
    path.symlink_to(path.with_name("diary.txt"))


KINDS: dict[str, Callable[[Path], None]] = {
    "fifo": lambda path: os.mkfifo(path),
    "socket": a_socket,
    "folder": lambda path: path.mkdir(),
    "link": a_link,
    "link to nothing": lambda path: path.symlink_to("nowhere"),
}

LOG = ("log", "log.csv", "--hole", "40 mm", "--mass", "212 g", "--time", "0.52 s")
OUTPUTS = {
    "o.h5": ("run", "c.toml", "--overwrite", "-o"),
    "m.h5": ("run", "c.toml", "--members", "2", "--overwrite", "-o"),
    "o.csv": ("export", "r.h5", "-o"),
    "o.vtu": ("export", "r.h5", "-o"),
    "o.png": ("compare", "r.h5", "-o"),
    "o.gif": ("film", "r.h5", "-o"),
    "o.html": ("report", "r.h5", "-o"),
    "o.svg": ("check", "c.toml", "--figure"),
    "o.pdf": ("check", "c.toml", "--sheet"),
    "n.toml": ("new",),
    ".o.h5.part": ("run", "c.toml", "-o", "o.h5"),
    ".log.csv.lock": LOG,
}
"""Commands by what they write; the last two write beside their output."""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    write_result(Path("r.h5"), frames=2, cells=(6, 8), steps=20)
    Path("c.toml").write_text(CASE_TEXT)
    Path("diary.txt").write_bytes(PRECIOUS)
    return tmp_path


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", OUTPUTS)
def test_what_is_no_ordinary_file_is_never_written_nor_replaced(place, refused, name, kind):
    hidden = name.startswith(".")
    strange = place / (name.removeprefix(".") if name.endswith(".part") else name)
    KINDS[kind](strange)
    before = {path.name: path.lstat().st_ino for path in place.iterdir()}
    told = refused(*OUTPUTS[name], *([] if hidden else [strange.name]))
    assert re.search("is a link|is a folder|xists already", told), told
    assert {path.name: path.lstat().st_ino for path in place.iterdir()} == before
    assert Path("diary.txt").read_bytes() == PRECIOUS


def test_a_logbook_leaves_no_lock(place):
    assert call(*LOG) == 0
    assert call(*LOG) == 0
    left = {path.name for path in place.iterdir()}
    assert left == {"r.h5", "c.toml", "diary.txt", "log.csv"}


NAMES = ("run[1x].h5", "run1.h5", "runx.h5", "*.h5", "?.h5", "cup.h5", "cup.h5-b.h5", "a.h5")
ALIKE = (*NAMES, ".a.h5", "..a.h5", "cup.h5-grid0-member000.h5")


def test_the_runs_of_each_output_are_its_own_whatever_its_name(tmp_path):
    """Each has the files of a ensemble beside it; to clear one away leaves those of all others."""
    ends = ("progress", "grid0-member000.h5", "grid2-member099.h5.part", "grid0-member001.h5.new")
    made = {name: {beside(tmp_path / name, end) for end in ends} for name in ALIKE}
    left = set().union(*made.values())
    assert len(left) == len(ends) * len(ALIKE)
    for path in left:
        path.write_bytes(b"")
    for name in ALIKE:
        assert set(left_beside(tmp_path / name)) == made[name]
        clear_beside(tmp_path / name)
        left -= made[name]
        assert set(tmp_path.iterdir()) == left


class Swap:
    """Called as the progress of a run: puts a link in the place of one of its files, once."""

    def __init__(self, name: Path, precious: Path) -> None:
        self.name, self.precious, self.done = name, precious, False

    def __call__(self, now: Progress) -> None:
        if not self.done:
            self.done = True
            self.name.unlink(missing_ok=True)
            self.name.symlink_to(self.precious)


@pytest.mark.parametrize("end", [".part", ".new"])
def test_a_file_of_a_run_that_is_swapped_for_a_link_is_not_written_through(tmp_path, end):
    """The copy is made anew; where the working file is gone, the run ends with a sentence."""
    precious, path = tmp_path / "diary.txt", tmp_path / "cup.h5"
    precious.write_bytes(PRECIOUS)
    swap = Swap(path.with_name(f"cup.h5{end}"), precious)
    sink = case_of(CUP)
    if end == ".part":
        with pytest.raises(RunError, match="another program has replaced it in the meantime"):
            run(sink, path, frame_interval=1.0, progress=swap)
    else:
        run(sink, path, frame_interval=1.0, progress=swap)
        assert read_result(path).status == "finished"
    assert swap.done
    assert precious.read_bytes() == PRECIOUS
    assert not path.is_symlink()


def test_a_working_file_swapped_at_the_last_moment_is_not_put_in_place(tmp_path):
    precious = tmp_path / "diary.txt"
    precious.write_bytes(PRECIOUS)
    work = WorkFile(tmp_path / "cup.h5")
    work.write(b"x" * 1000)
    for name in (work.working, tmp_path / "cup.h5.new"):
        name.unlink(missing_ok=True)
        name.symlink_to(precious)
    work.publish_last()
    assert work.error is not None
    assert not (tmp_path / "cup.h5").exists()
    assert precious.read_bytes() == PRECIOUS


def test_a_board_that_was_swapped_for_a_link_is_not_opened(tmp_path):
    precious, hidden = tmp_path / "diary.txt", tmp_path / ".run.h5-progress"
    precious.write_bytes(PRECIOUS)
    board = Board(hidden, 3)
    hidden.unlink()
    hidden.symlink_to(precious)
    with pytest.raises(ResultError, match="is a link"):
        Board(hidden, 3, "r+")
    board.shares[:] = np.pi
    assert precious.read_bytes() == PRECIOUS


@pytest.mark.skipif(os.name != "posix" or os.getuid() != 0, reason="only root gives files away")
def test_a_working_file_of_a_stranger_is_not_taken_over(tmp_path):
    """He may keep it open, and write to the result."""
    (tmp_path / "cup.h5.part").write_bytes(b"")
    os.chown(tmp_path / "cup.h5.part", 12345, 12345)
    with pytest.raises(ResultError, match="belongs to another user"):
        WorkFile(tmp_path / "cup.h5")


def test_a_folder_in_which_anybody_can_rename_files_is_told_of(tmp_path):
    tmp_path.chmod(0o777)
    with pytest.warns(RuntimeWarning, match="Every user of this machine can rename"):
        run(case_of(CUP), tmp_path / "cup.h5", frame_interval=1.0)
    tmp_path.chmod(0o1777)
    run(case_of(CUP), tmp_path / "cup.h5", overwrite=True, frame_interval=1.0)


def test_an_index_goes_past_a_link_that_was_laid_for_it(tmp_path):
    (tmp_path / "diary.txt").write_bytes(PRECIOUS)
    (tmp_path / INDEX).symlink_to(tmp_path / "diary.txt")
    write_index(Sweep(tmp_path, "holes", CUP, "", ("hole.diameter",), ()))
    assert (tmp_path / "diary.txt").read_bytes() == PRECIOUS
