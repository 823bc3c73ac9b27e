"""Many runs, many commands and kills at once, with small numbers: `loads.py` says how."""

import subprocess
from collections import Counter
from concurrent.futures import Executor, Future
from typing import Any

import numpy as np
import pytest

from coarse_cups import case_of
from console import started
from faults.loads import HEAVY, MOST_WAIT, cluster_killed, end_state, many_runs
from faults.loads import run_killed as kill_run
from faults.test_sweep_killed import Here
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.sweeping import sweep

RUNS = 6

pytestmark = pytest.mark.slow


class Tired(Here):
    """Computes here, counts how often each result is asked for, and gives up after some."""

    def __init__(self, runs: int) -> None:
        super().__init__()
        self.asked: Counter[str] = Counter()
        self._runs = runs

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        if self.asked.total() == self._runs:
            raise KeyboardInterrupt
        self.asked[args[0].name] += 1
        return super().submit(fn, *args, **kwargs)


def test_a_sweep_of_many_runs_computes_each_once_however_often_it_is_broken_off(tmp_path):
    """Three sittings; the second begins where the first was broken off, the third does nothing."""
    case, folder = case_of(HEAVY), tmp_path / "holes"
    over = {"hole.diameter": f"36mm:44mm:{RUNS}"}
    asked: Counter[str] = Counter()
    for most, expected in ((RUNS // 3, RUNS // 3), (RUNS, RUNS - RUNS // 3), (RUNS, 0)):
        executor: Executor = Tired(most)
        done = sweep(case, over, folder, executor=executor)
        assert executor.asked.total() == expected
        asked += executor.asked
    assert set(asked.values()) == {1}
    holes = {read_result(folder / str(run.file)).case.hole.diameter for run in done.runs}
    assert len(holes) == RUNS
    assert end_state(folder, RUNS) == []


def test_four_commands_at_once_in_one_folder_leave_four_whole_answers(tmp_path):
    """Two runs, a sweep and an estimate that begin together, with one cache of kernels."""
    (tmp_path / "cup.toml").write_text(HEAVY)
    over = ("--over", "hole.diameter=38mm:42mm:2", "-o", "holes", "--workers", "1")
    commands = (
        ("run", "cup.toml", "-o", "a.h5"),
        ("run", "cup.toml", "-o", "b.h5"),
        ("sweep", "cup.toml", *over),
        ("run", "cup.toml", "--estimate"),
    )
    together = [
        subprocess.Popen(started(*command), cwd=tmp_path, stdout=-1, stderr=-1)
        for command in commands
    ]
    for command, process in zip(commands, together, strict=True):
        _, errors = process.communicate(timeout=MOST_WAIT)
        assert process.returncode == 0, (command, errors)
    a, b = read_result(tmp_path / "a.h5"), read_result(tmp_path / "b.h5")
    assert a.status == b.status == "finished"
    assert np.array_equal(a.history["draft"], b.history["draft"])
    assert {path.name for path in tmp_path.iterdir()} == {"cup.toml", "a.h5", "b.h5", "holes"}


def test_sweeps_that_are_watched_asked_for_at_once_and_killed_lose_nothing(tmp_path):
    """The sweep that is killed, on dask, ends as the one that was left alone, to the bit."""
    pytest.importorskip("distributed")
    alone = many_runs(tmp_path, RUNS)
    killed = cluster_killed(tmp_path, RUNS, 3, 5)
    print(alone.row, killed.row, sep="\n")
    assert alone.counts["looks at all of the folder"] > 5
    assert killed.counts["kills of schedulers"] > 0 < killed.counts["kills of workers"]
    assert alone.wrong == killed.wrong == []


@pytest.mark.parametrize(("grids", "kills"), [(1, 50), (3, 6)])
def test_kills_at_random_moments_lose_nothing(tmp_path, grids, kills):
    """SIGKILL, real processes: each time the files open with h5py alone, and in the end all of it
    is bit for bit that of an uninterrupted run."""
    show = kill_run(tmp_path, kills, 20, grids)
    print(show.row)
    assert show.wrong == []
    assert show.counts["kills"] == kills
    assert show.counts["before the first result"] < kills / 2, "most must hit a run under way"
    assert show.counts["ends"] >= 1
