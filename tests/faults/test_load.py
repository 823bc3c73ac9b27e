"""Many runs, many commands and many kills at once: nothing is lost, nothing is computed twice.

Small numbers by default; SINKBOWL_FULL_LOAD=1 gives 200 runs and 50 kills.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from coarse_cups import THICK, thick_cup
from faults.test_sweep_full_disk import Here
from faults.test_sweep_killed import at_work, start, unfinished
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.sweeping import sweep

FULL = bool(os.environ.get("SINKBOWL_FULL_LOAD"))
RUNS = 200 if FULL else 6
KILLS = 50 if FULL else 3
MOST_WAIT = 3600.0 if FULL else 300.0
"""Wall time after which a sweep that is killed again and again counts as stuck [s]."""

HEAVY = 8000
"""Density of a cup that is under after 170 steps [kg/m^3]."""

SCRIPT = "from sinkbowl_post.cli import main; main()"

pytestmark = pytest.mark.slow


class Counting(Here):
    """Computes here, and counts how often each result is asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: Counter[str] = Counter()

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.asked[args[0].name] += 1
        return super().submit(fn, *args, **kwargs)


class Tired(Counting):
    """Gives up with Ctrl-C after some runs."""

    def __init__(self, runs: int) -> None:
        super().__init__()
        self._runs = runs

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        if self.asked.total() == self._runs:
            raise KeyboardInterrupt
        return super().submit(fn, *args, **kwargs)


def test_a_sweep_of_many_runs_computes_each_once_however_often_it_is_broken_off(
    tmp_path: Path,
) -> None:
    """Three sittings; the second begins where the first was broken off, the third does nothing."""
    case, folder = thick_cup(HEAVY), tmp_path / "holes"
    over = {"hole.diameter": f"36mm:44mm:{RUNS}"}
    sittings: list[tuple[Executor, int]] = [
        (Tired(RUNS // 3), RUNS // 3),
        (Counting(), RUNS - RUNS // 3),
        (Counting(), 0),
    ]
    asked: Counter[str] = Counter()
    for executor, expected in sittings:
        done = sweep(case, over, folder, executor=executor)
        assert isinstance(executor, Counting)
        assert executor.asked.total() == expected
        asked += executor.asked
    assert set(asked.values()) == {1}
    assert [run.status for run in done.runs] == ["finished"] * RUNS
    assert len({run.sinking_time for run in done.runs}) > RUNS // 2
    names = {path.name for path in folder.iterdir()}
    assert names == {"index.h5", ".lock", *(run.file for run in done.runs)}


def test_four_commands_at_once_in_one_folder_leave_four_whole_answers(tmp_path: Path) -> None:
    """Two runs, a sweep and an estimate that begin together, with one cache of kernels."""
    (tmp_path / "cup.toml").write_text(THICK.format(density=HEAVY))
    over = ("--over", "hole.diameter=38mm:42mm:2", "-o", "holes", "--workers", "1")
    commands = (
        ("run", "cup.toml", "-o", "a.h5"),
        ("run", "cup.toml", "-o", "b.h5"),
        ("sweep", "cup.toml", *over),
        ("run", "cup.toml", "--estimate"),
    )
    pipe = subprocess.PIPE
    started = [
        subprocess.Popen(
            [sys.executable, "-c", SCRIPT, *command], cwd=tmp_path, stdout=pipe, stderr=pipe
        )
        for command in commands
    ]
    for command, process in zip(commands, started, strict=True):
        _, errors = process.communicate(timeout=MOST_WAIT)
        assert process.returncode == 0, (command, errors)
        assert errors == b""
    a, b = read_result(tmp_path / "a.h5"), read_result(tmp_path / "b.h5")
    assert a.status == b.status == "finished"
    assert np.array_equal(a.history["draft"], b.history["draft"])
    assert {path.name for path in tmp_path.iterdir()} == {"cup.toml", "a.h5", "b.h5", "holes"}


def test_who_reads_all_the_while_finds_a_whole_result_each_time(tmp_path: Path) -> None:
    """A result on disk is all of one moment: it opens, has whole rows, and never goes back."""
    (tmp_path / "cup.toml").write_text(THICK.format(density=1500))
    path = tmp_path / "cup.h5"
    sinking = (
        "from sinkbowl.running import runner; runner.CHECKPOINT_SHARE = 1.0\n"
        "from sinkbowl import load_case\n"
        "runner.run(load_case('cup.toml'), 'cup.h5', checkpoint_every=0.0)"
    )
    writer = subprocess.Popen([sys.executable, "-c", sinking], cwd=tmp_path)
    rows, reads, last = 0, 0, False
    while not last:
        last = writer.poll() is not None
        if path.exists():
            result = read_result(path)
            assert len(result.history["t"]) >= rows
            assert np.all(np.isfinite(result.history["draft"]))
            if len(result.frames):
                result.frames.fields(len(result.frames) - 1)
            rows, reads = len(result.history["t"]), reads + 1
    print(reads, rows)
    assert writer.returncode == 0
    assert result.status == "finished"
    assert reads > 20


class Cluster:
    """A scheduler of dask and two workers on this machine, which can be killed and replaced."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._count = folder, 0
        self.processes: list[subprocess.Popen[bytes]] = []
        self.sittings: list[subprocess.Popen[str]] = []
        self.begin()

    def begin(self) -> None:
        """A new scheduler with new workers; what is left of the old ones ends."""
        self.end()
        self._count += 1
        self._note = self._folder / f"scheduler{self._count}.json"
        options = ("--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        self.processes = [self._launch("scheduler", *options)]
        while not (self._note.exists() and self._note.read_text()):
            time.sleep(0.05)
        self.address = json.loads(self._note.read_text())["address"]
        self.processes += [self._worker(), self._worker()]

    def sit(self, command: list[str]) -> subprocess.Popen[str]:
        """Start a sweep, which ends with the test at the latest."""
        self.sittings.append(start(command))
        return self.sittings[-1]

    def kill_worker(self, which: int) -> None:
        """Kill one of the two and put another in its place."""
        self._kill(self.processes[1 + which])
        self.processes[1 + which] = self._worker()

    def kill_scheduler(self) -> None:
        self._kill(self.processes[0])

    def end(self) -> None:
        for process in self.processes:
            self._kill(process)

    def _worker(self) -> subprocess.Popen[bytes]:
        space = str(self._folder / "space")
        options = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", space)
        return self._launch("worker", *options)

    def _launch(self, kind: str, *options: str) -> subprocess.Popen[bytes]:
        module = ("-m", f"distributed.cli.dask_{kind}", "--scheduler-file", str(self._note))
        with (self._folder / f"{kind}.log").open("ab") as log:
            return subprocess.Popen([sys.executable, *module, *options], stdout=log, stderr=log)

    def _kill(self, process: subprocess.Popen[bytes]) -> None:
        process.kill()
        process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    pytest.importorskip("distributed")
    (tmp_path / "dask").mkdir()
    started = Cluster(tmp_path / "dask")
    yield started
    started.end()
    for sitting in started.sittings:
        sitting.kill()
        sitting.communicate()


def whole(folder: Path) -> dict[str, int]:
    """Results that are finished, and when they were written."""
    found = [path for path in folder.glob("[!.]*.h5") if path.name != "index.h5"]
    return {p.name: p.stat().st_mtime_ns for p in found if read_result(p).status == "finished"}


def test_a_cluster_whose_workers_and_schedulers_are_killed_loses_nothing(
    tmp_path: Path, cluster: Cluster
) -> None:
    """Kill -9 at random moments: of workers, which are replaced, and of the scheduler.

    A result that was finished is never written again; in the end all of them are there.
    """
    rng, begun, runs = random.Random(5), time.monotonic(), 2 * KILLS
    folder, case = tmp_path / "holes", tmp_path / "cup.toml"
    case.write_text(THICK.format(density=HEAVY))
    over = ("--over", f"hole.diameter=36mm:44mm:{runs}", "-o", str(folder), "--json")
    command = [sys.executable, "-c", SCRIPT, "sweep", str(case), *over]
    before: dict[str, int] = {}
    between = 0
    sitting = cluster.sit([*command, "--cluster", cluster.address])
    for kill in range(KILLS):
        time.sleep(rng.uniform(0.5, 4.0))
        if rng.random() < 0.3:
            cluster.kill_scheduler()
            _, errors = sitting.communicate(timeout=MOST_WAIT)
            assert errors.startswith("sinkbowl: "), errors
            cluster.begin()
        else:
            cluster.kill_worker(rng.randrange(2))
        now = whole(folder) if folder.exists() else {}
        between += len(now) > len(before) > 0
        print(kill, len(now), between)
        assert before.items() <= now.items(), "a result was lost, or computed twice"
        before = now
        if sitting.poll() is not None:
            sitting.communicate()
            sitting = cluster.sit([*command, "--cluster", cluster.address])
        assert time.monotonic() - begun < MOST_WAIT
    sitting.communicate(timeout=MOST_WAIT)
    print(f"{between} of {KILLS} kills came after a run had ended since the kill before")
    assert between >= 10 or not FULL, "too few runs ended between two kills"
    assert before.items() <= whole(folder).items()
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert [run["status"] for run in json.loads(done.stdout)["runs"]] == ["finished"] * runs
    assert not unfinished(folder) + at_work(folder)
