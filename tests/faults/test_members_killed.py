"""Ensembles and grids that are killed: what was computed is gone on with, to the same bits."""

import json
import os
import signal
import subprocess
import time
from pathlib import Path

import psutil
import pytest

from console import last_line, started
from faults.killed_runs import CUP, FINE
from sinkbowl.files.result import read_result
from sinkbowl.files.work_file import WorkFile
from synthetic import edited, write_result

MARK = "begun before the kill"


def command(case: Path, output: Path, *wishes: str) -> list[str]:
    return started("run", case, "-o", output, "--json", *wishes)


def hidden(folder: Path) -> list[Path]:
    """Runs of the ensemble as they were at their last checkpoint, or finished."""
    return sorted(folder.glob(".cup.h5-*.h5"))


def killed_when(wanted: int, words: list[str], folder: Path) -> None:
    """Start a command and kill it, -9, when so many runs on its finest grid have left a file."""
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    while len(list(folder.glob(".cup.h5-grid0-*.h5"))) < wanted:
        assert process.poll() is None, process.communicate()
        time.sleep(0.005)
    workers = psutil.Process(process.pid).children(recursive=True)
    os.kill(process.pid, signal.SIGKILL)
    process.communicate()
    assert not psutil.wait_procs(workers, timeout=60)[1]


def told_by(words: list[str]) -> dict[str, object]:
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    figures: dict[str, object] = json.loads(done.stdout)
    return figures


@pytest.mark.slow
@pytest.mark.parametrize(
    "wishes", [("--members", "2"), ("--grids", "3"), ("--members", "2", "--grids", "3")]
)
def test_killed_runs_go_on_where_they_were(tmp_path, wishes):
    """kill -9 of the command: its processes end with it; what their files held is marked here, and
    the mark is in the result, whose numbers are those of a command that was left alone."""
    case, path, whole = (tmp_path / name for name in ("cup.toml", "cup.h5", "whole.h5"))
    case.write_text(FINE)
    finest = int(wishes[1]) if wishes[0] == "--members" else 1
    killed_when(finest, command(case, path, *wishes), tmp_path)
    assert not path.exists()
    for left in hidden(tmp_path):
        with edited(left) as file:
            file.attrs["title"] = MARK
    told = told_by(command(case, path, *wishes, "--resume"))
    assert read_result(path).title == MARK
    left_alone = told_by(command(case, whole, *wishes))
    for name in ("sinking_time_s", "interval_s", "members_s", "steps"):
        assert told[name] == left_alone[name], name
    one, other = read_result(path), read_result(whole)
    for m in range(one.members):
        mine, yours = one.member(m), other.member(m)
        assert all(mine[name].tobytes() == yours[name].tobytes() for name in mine)
    names = sorted(file.name for file in tmp_path.iterdir())
    assert names == ["cup.h5", "cup.toml", "whole.h5"]


@pytest.mark.slow
def test_ctrl_c_ends_an_ensemble_with_a_word_and_no_process_left(tmp_path, written):
    case, path = written(CUP.replace('cell = "10 mm"', 'cell = "4 mm"')), tmp_path / "cup.h5"
    process = subprocess.Popen(
        command(case, path, "--members", "2"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while not hidden(tmp_path):
        assert process.poll() is None, process.communicate()
        time.sleep(0.01)
    workers = psutil.Process(process.pid).children(recursive=True)
    os.killpg(process.pid, signal.SIGINT)
    told, errors = process.communicate()
    assert process.returncode == 1
    assert told == ""
    last = last_line(errors, ".*runs done")
    assert last.startswith("sinkbowl: ")
    assert "Continue with --resume" in last
    assert not psutil.wait_procs(workers, timeout=60)[1]
    assert not path.exists()
    assert hidden(tmp_path)


def test_two_commands_with_one_output_do_not_meet(tmp_path, refused, written):
    """While one holds the output the other is refused, and what lies beside it is left alone."""
    case, path = written(CUP), tmp_path / "cup.h5"
    left = tmp_path / ".cup.h5-grid0-member000.h5"
    left.write_bytes(b"at work")
    with WorkFile(path):
        for wish in ("--resume", "--overwrite"):
            assert "another run is writing it" in refused(
                "run", case, "-o", path, "--members", "2", wish
            )
            assert left.read_bytes() == b"at work"


def test_what_a_kill_left_beside_a_finished_result_goes_with_the_next_command(
    tmp_path, refused, written
):
    """Killed between the last result and the removal of the runs that it was made of; beside a
    single run's result they stay, because they are not in it."""
    case, path = written(FINE), tmp_path / "cup.h5"
    runs = [tmp_path / f".cup.h5-grid{k}-member000.h5" for k in range(3)]
    for grids, wish, stay in ((1, "--resume", True), (3, "--resume", False), (3, "--json", False)):
        write_result(path, frames=2, cells=(6, 8), steps=20)
        with edited(path) as file:
            file.attrs["grids"] = grids
        for run in runs:
            run.write_bytes(path.read_bytes())
        assert ("is finished" if wish == "--resume" else "exists") in refused(
            "run", case, "-o", path, "--grids", "3", wish
        )
        assert [run.exists() for run in runs] == [stay] * 3
        assert path.exists()
        path.unlink()
