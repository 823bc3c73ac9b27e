"""Folders in which others write: outputs that are no files, names alike, files swapped in a run."""

import os
import re
import socket
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from coarse_cups import case_of
from console import call
from faults.killed_runs import CUP
from sinkbowl.common.errors import ResultError, RunError
from sinkbowl.files.result import read_result
from sinkbowl.files.work_file import WorkFile
from sinkbowl.running.ensemble_runs import Board, beside, clear_beside, left_beside
from sinkbowl.running.runner import Progress, run
from sinkbowl.sweeps.index import INDEX, Sweep, write_index
from synthetic import CASE_TEXT, write_result

PRECIOUS = b"sixteen letters." * 40


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
