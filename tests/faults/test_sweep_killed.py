"""Sweeps whose processes are killed, or for which the disk has no room: told, and gone on with."""

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import psutil
import pytest

from coarse_cups import thick_cup
from console import last_line, started
from faults.cluster import Cluster
from faults.test_places import mounted
from sinkbowl.case.keys import text_with
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.index import INDEX, read_sweep
from sinkbowl.sweeps.sweeping import sweep
from synthetic import edited

HOLES = "hole.diameter=70mm:92mm:5"
RUNS = 5
OVER = {"hole.diameter": "36mm:44mm:3"}


@pytest.fixture
def command(tmp_path: Path) -> list[str]:
    """A sweep of the coarse steel cup over wide holes."""
    case = tmp_path / "cup.toml"
    steel = shipped_case("steel-cup").read_text(encoding="utf-8")
    case.write_text(text_with(steel, {"flow.cell": "4 mm"}), encoding="utf-8")
    return started("sweep", case, "--over", HOLES, "-o", tmp_path / "holes", "--json")


def start(command: list[str]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def until(ready: Callable[[], object], process: subprocess.Popen[str]) -> None:
    """Wait until something holds, as long as the process lives."""
    while not ready():
        assert process.poll() is None, process.communicate()
        time.sleep(0.02)


def at_work(folder: Path) -> list[Path]:
    """Files that runs are writing."""
    return list(folder.glob(".sweep-*.part"))


def unfinished(folder: Path) -> list[Path]:
    """Runs as they were at their last checkpoint."""
    return list(folder.glob(".sweep-*.h5"))


def results(folder: Path) -> dict[str, int]:
    return {file.name: file.stat().st_mtime_ns for file in folder.glob("?-*.h5")}


def writer_of(folder: Path, among: list[psutil.Process]) -> psutil.Process | None:
    """A process that has a file of a run open."""
    for process in among:
        try:
            if {Path(file.path) for file in process.open_files()} & set(at_work(folder)):
                return process
        except psutil.NoSuchProcess:
            continue
    return None


def first_writer_killed(
    folder: Path, sweep: subprocess.Popen[str], among: Callable[[], Any]
) -> Any:
    """Kill the first of these processes that is seen to write; returns what the sweep prints."""
    found: list[psutil.Process] = []

    def writing() -> bool:
        writer = writer_of(folder, among())
        found.extend([writer] if writer else [])
        return writer is not None

    until(writing, sweep)
    found[0].kill()
    told, errors = sweep.communicate()
    assert sweep.returncode == 0, errors
    assert not unfinished(folder) + at_work(folder)
    return json.loads(told)


@pytest.mark.slow
def test_killed_worker_costs_nothing_but_its_run(command, tmp_path):
    """Every run is finished at the end; the loss is in the index."""
    folder, sweep = tmp_path / "holes", start([*command, "--workers", "2"])
    process = psutil.Process(sweep.pid)
    told = first_writer_killed(folder, sweep, lambda: process.children(recursive=True))
    assert [run["status"] for run in told["runs"]] == RUNS * ["finished"]
    assert sum(run["losses"] for run in told["runs"]) == 1
    assert len(read_sweep(folder).with_status("finished")) == RUNS


@pytest.mark.slow
def test_killed_sweep_goes_on_where_it_stopped(command, tmp_path):
    """kill -9 of the command: its workers end with it, what was finished is left alone, and
    what was not goes on from its checkpoint: its file keeps the mark that it is given here."""
    folder = tmp_path / "holes"
    sweep = start([*command, "--workers", "2"])
    until(lambda: results(folder) and unfinished(folder), sweep)
    workers = psutil.Process(sweep.pid).children(recursive=True)
    os.kill(sweep.pid, signal.SIGKILL)
    sweep.communicate()
    gone, alive = psutil.wait_procs(workers, timeout=60)
    assert gone
    assert not alive
    before = results(folder)
    assert 0 < len(before) < RUNS
    for path in unfinished(folder):
        with edited(path) as file:
            file.attrs["title"] = "begun before the kill"
    gone_on_with = {path.name.removeprefix(".sweep-") for path in unfinished(folder)}
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert [run["status"] for run in json.loads(done.stdout)["runs"]] == RUNS * ["finished"]
    titles = {name: read_result(folder / name).title for name in results(folder)}
    assert {name for name in titles if "before the kill" in titles[name]} == gone_on_with
    after = results(folder)
    assert len(after) == RUNS
    assert before.items() <= after.items()
    assert not unfinished(folder) + at_work(folder)


@pytest.mark.slow
def test_ctrl_c_ends_a_sweep_with_a_word_and_no_process_left(command, tmp_path):
    folder = tmp_path / "holes"
    sweep = start([*command, "--workers", "2"])
    until(lambda: at_work(folder), sweep)
    workers = psutil.Process(sweep.pid).children(recursive=True)
    os.killpg(sweep.pid, signal.SIGINT)
    told, errors = sweep.communicate()
    assert sweep.returncode == 1
    last = last_line(errors, "sweep, ")
    assert last.startswith("sinkbowl: ")
    assert "Give the same command again" in last
    assert "waiting" in {run["status"] for run in json.loads(told)["runs"]}
    assert not psutil.wait_procs(workers, timeout=60)[1]
    assert not at_work(folder)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    pytest.importorskip("distributed")
    with Cluster(tmp_path / "dask") as made:
        yield made


@pytest.mark.slow
def test_killed_worker_of_a_cluster_costs_nothing_but_its_run(command, tmp_path, cluster):
    """Two dask workers, one killed in the middle of a run: the other one finishes the sweep."""
    folder, sweep = tmp_path / "holes", start([*command, "--cluster", cluster.address])
    workers = [psutil.Process(worker.pid) for worker in cluster.workers]
    told = first_writer_killed(folder, sweep, lambda: workers)
    assert [run["status"] for run in told["runs"]] == RUNS * ["finished"]
    assert len(results(folder)) == RUNS


@pytest.mark.slow
def test_killed_scheduler_of_a_cluster_is_told_and_the_sweep_goes_on_without_it(
    command, tmp_path, cluster
):
    """kill -9: what was finished stays, and the same command on this machine does the rest."""
    folder = tmp_path / "holes"
    sweep = start([*command, "--cluster", cluster.address])
    until(lambda: results(folder) and at_work(folder), sweep)
    cluster.scheduler.kill()
    told, errors = sweep.communicate(timeout=120)
    assert sweep.returncode == 1
    last = last_line(errors, "sweep, ")
    assert last.startswith("sinkbowl: ")
    assert "Give the same command again" in last
    assert {run["status"] for run in json.loads(told)["runs"]} == {"finished", "failed"}
    assert "scheduler was lost" in told
    for worker in cluster.workers:
        worker.kill()
        worker.wait()
    ends = {name: read_result(folder / name) for name in results(folder)}
    print({name: (end.status, end.attrs["message"]) for name, end in ends.items()})
    before = {n: t for n, t in results(folder).items() if ends[n].status == "finished"}
    assert 0 < len(before) < RUNS
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert [run["status"] for run in json.loads(done.stdout)["runs"]] == RUNS * ["finished"]
    assert before.items() <= results(folder).items()
    assert not unfinished(folder) + at_work(folder)


@pytest.mark.slow
@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://x"])
def test_cluster_that_does_not_answer_is_told(command, tmp_path, address):
    pytest.importorskip("distributed")
    done = subprocess.run([*command, "--cluster", address], capture_output=True, text=True)
    assert done.returncode == 2
    assert "--cluster" in done.stderr
    assert done.stderr.splitlines()[-1].startswith("sinkbowl: ")
    assert not (tmp_path / "holes").exists()


class Here(Executor):
    """Computes in this very process, at once."""

    def __init__(self, before: Callable[[], None] = lambda: None) -> None:
        self._before = before

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            self._before()
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


def fill(disk: Path, spare: int) -> Path:
    """A file that leaves so many bytes of a disk."""
    filler = disk / "filler"
    filler.write_bytes(b"x" * max(os.statvfs(disk).f_bavail * 4096 - spare, 0))
    return filler


@pytest.mark.slow
def test_a_sweep_on_a_full_disk_is_told_and_gone_on_with(tmp_path):
    """Room for the first index, and then for nothing more."""
    case = thick_cup(1500)
    for disk in mounted(tmp_path, "size=60m"):
        folder = disk / "holes"
        fillers: list[Path] = []

        def full(disk: Path = disk, fillers: list[Path] = fillers) -> None:
            if not fillers:
                fillers.append(fill(disk, 4096))

        with pytest.raises(ResultError, match=r"index\.h5: cannot be written \(No space left") as e:
            sweep(case, OVER, folder, executor=Here(full))
        assert "HDF5" not in str(e.value)
        assert "errno" not in str(e.value)
        assert [run.status for run in read_sweep(folder).runs] == ["waiting"] * 3
        left = {path.name for path in folder.iterdir()} - {INDEX, ".lock"}
        assert all(name.startswith(".sweep-") for name in left), left
        fillers[0].unlink()
        done = sweep(case, OVER, folder, executor=Here())
        assert [run.status for run in done.runs] == ["finished"] * 3, done.runs
        names = {path.name for path in folder.iterdir()}
        assert names == {INDEX, ".lock", *(run.file for run in done.runs)}


def test_a_disk_that_is_full_from_the_start_is_told(tmp_path):
    case = thick_cup(1500)
    for disk in mounted(tmp_path, "size=64k"):
        (disk / "holes").mkdir()
        fill(disk, 4096)
        with pytest.raises(ResultError, match=r"cannot be (written|used) \(No space left"):
            sweep(case, OVER, disk / "holes", executor=Here())
        assert not (disk / "holes" / INDEX).exists()
