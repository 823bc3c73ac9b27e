"""Sweeps of coarse cups: what they leave, what they compute again, whom they survive."""

import os
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest

from coarse_cups import STEEL, THICK, Interruption, case_of
from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError, ResultError, RunError
from sinkbowl.files.result import read_result
from sinkbowl.files.work_file import WorkFile
from sinkbowl.running.ensemble_runs import beside
from sinkbowl.running.job_queue import QueueProgress
from sinkbowl.running.process_pool import ATTEMPTS, ProcessPool
from sinkbowl.running.runner import RunResult, run
from sinkbowl.scatter import drawn
from sinkbowl.sweeps import sweeping
from sinkbowl.sweeps.index import DATASETS, INDEX, Sweep, read_sweep
from sinkbowl.sweeps.plan import PlannedRun, plan_sweep
from sinkbowl.sweeps.sweeping import open_log, sweep
from synthetic import edited

CUP = THICK.format(density=1500)
CUP_40 = PlannedRun("1-40mm", (), case_of(CUP))
HOLES = {"hole.diameter": "40 mm, 60 mm, 50 mm"}


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Sweep, list[QueueProgress]]:
    """Three holes in a thick cup, in this process."""
    seen: list[QueueProgress] = []
    folder = tmp_path_factory.mktemp("sweep") / "holes"
    done = here(case_of(CUP), HOLES, folder, progress=seen.append)
    return done, seen


def snapshot(folder: Path) -> dict[str, int]:
    """When each result was written."""
    return {file.name: file.stat().st_mtime_ns for file in folder.glob("?-*.h5")}


def here(case: Case, over: Any, folder: Path, **wishes: Any) -> Sweep:
    """A sweep in this process."""
    with ThreadPoolExecutor(1) as executor:
        return sweep(case, over, folder, executor=executor, **wishes)


@pytest.mark.slow
def test_index_and_results_say_what_the_call_returns(swept):
    done, _ = swept
    assert read_sweep(done.folder) == done
    assert [run.status for run in done.runs] == 3 * ["finished"]
    assert done.values("hole.diameter") == pytest.approx([0.04, 0.06, 0.05])
    for run_ in done.runs:
        result = read_result(done.folder / run_.file)
        assert result.sinking_time == run_.sinking_time
        assert result.outcome == run_.outcome
        assert result.case.hole.diameter == pytest.approx(run_.values[0])
    assert np.all(np.diff(np.sort(done.sinking_times)) > 0.0)
    assert sorted(file.name for file in done.folder.iterdir()) == sorted(
        [INDEX, ".lock", *(run_.file for run_ in done.runs)]
    )


@pytest.mark.slow
def test_every_column_of_the_index_has_unit_and_description(swept):
    """Read with h5py alone."""
    with h5py.File(swept[0].folder / INDEX) as file:
        for name in (
            *(one.name for one in DATASETS),
            "values/hole.diameter",
            "written/hole.diameter",
        ):
            assert file[name].shape == (3,)
            assert file[name].attrs["units"]
            assert file[name].attrs["description"]
        assert file["values/hole.diameter"].attrs["units"] == "m"
        assert list(file["written/hole.diameter"].asstr()) == ["40 mm", "60 mm", "50 mm"]


@pytest.mark.slow
def test_longest_run_comes_first_and_progress_rises_to_the_whole(swept):
    """The narrowest hole takes longest; its result is the oldest."""
    done, seen = swept
    oldest = min(done.runs, key=lambda run_: (done.folder / run_.file).stat().st_mtime_ns)
    assert oldest.written == ("40 mm",)
    assert [progress.done for progress in seen] == [0, 1, 2, 3]
    assert np.all(np.diff([progress.fraction_done for progress in seen]) > 0.0)
    assert seen[-1].fraction_done == 1.0
    assert seen[-1].remaining_seconds == 0.0


@pytest.mark.slow
def test_the_same_again_computes_only_what_is_missing(swept):
    """Missing, unfinished, of another case, or no result at all: computed; the rest is left."""
    done, _ = swept
    first, second, third = (done.folder / run_.file for run_ in done.runs)
    first.unlink()
    second.write_bytes(b"no result")
    with edited(third) as file:
        file.attrs["status"] = "running"
    again = here(case_of(CUP), HOLES, done.folder)
    assert again.sinking_times == pytest.approx(done.sinking_times)
    before = snapshot(done.folder)
    remark = case_of(f"# weighed twice\n{CUP}")
    assert sweep(remark, HOLES, done.folder).runs == again.runs
    assert snapshot(done.folder) == before


@pytest.mark.slow
def test_another_plan_in_the_same_folder_is_refused_with_the_difference(swept):
    folder = swept[0].folder
    before = snapshot(folder)
    heavier = case_of(THICK.format(density=1600))
    cases = (
        (heavier, HOLES, ("bowl.density", "1500", "1600")),
        (case_of(CUP), {"hole.diameter": "40 mm, 50 mm"}, ("gone", "60 mm")),
        (case_of(CUP), {"hole.diameter": "40 mm, 60 mm, 50 mm, 45 mm"}, ("new", "45 mm")),
        (case_of(CUP), {"hole.diameter": "60 mm, 40 mm, 50 mm"}, ("order",)),
        (case_of(CUP), {"bowl.height": "60 mm, 70 mm"}, ("hole.diameter", "bowl.height")),
    )
    for case, over, words in cases:
        with pytest.raises(CaseError) as caught:
            sweep(case, over, folder)
        for word in ("another plan", str(folder), *words):
            assert word in str(caught.value)
    assert snapshot(folder) == before


def test_folder_with_other_things_in_it_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(ResultError, match="not empty"):
        sweep(case_of(CUP), HOLES, tmp_path)
    with pytest.raises(ResultError, match="cannot be used"):
        sweep(case_of(CUP), HOLES, tmp_path / "mine.txt")
    with pytest.raises(ResultError, match="cannot be used"):
        sweep(case_of(CUP), HOLES, tmp_path / "none" / "there")
    with pytest.raises(CaseError):
        sweep(case_of(CUP), {"hole.diameter": "1 m"}, tmp_path / "new")
    assert [file.name for file in tmp_path.iterdir()] == ["mine.txt"]


def test_two_sweeps_in_one_folder_do_not_meet(monkeypatch, tmp_path):
    """The second is refused while the first is at work."""
    refusals = []

    def meanwhile(case: Case, output: Path, resume: bool = False) -> RunResult:
        with pytest.raises(ResultError, match="running there") as caught:
            sweep(case_of(CUP), HOLES, tmp_path / "holes")
        refusals.append(caught.value)
        raise RunError("enough")

    monkeypatch.setattr(sweeping, "run", meanwhile)
    here(case_of(CUP), HOLES, tmp_path / "holes")
    assert len(refusals) == 3


@pytest.mark.slow
def test_failed_runs_are_listed_and_do_not_stop_the_rest(monkeypatch, tmp_path):
    """One breaks down half way, one raises what nobody foresaw; both are tried again later."""

    def faulty(case: Case, output: Path, resume: bool = False) -> RunResult:
        if case.hole.diameter == pytest.approx(0.06):
            raise RunError(f"{output}: the water moves too fast")
        if case.hole.diameter == pytest.approx(0.05):
            raise ZeroDivisionError("oh")
        return run(case, output)

    monkeypatch.setattr(sweeping, "run", faulty)
    folder = tmp_path / "holes"
    done = here(case_of(CUP), HOLES, folder)
    good, breaking, odd = done.runs
    assert (good.status, breaking.status, odd.status) == ("finished", "failed", "failed")
    assert breaking.reason == f"{folder / breaking.file}: the water moves too fast"
    assert odd.reason == "ZeroDivisionError: oh"
    assert read_sweep(folder) == done
    monkeypatch.setattr(sweeping, "run", run)
    before = snapshot(folder)
    again = here(case_of(CUP), HOLES, folder)
    assert len(again.with_status("finished")) == 3
    assert not any(run_.reason for run_ in again.runs)
    assert snapshot(folder)[good.file] == before[good.file]


@pytest.mark.slow
def test_a_run_at_which_another_worker_still_is_gets_a_file_of_its_own(tmp_path):
    """As when a scheduler gives up a worker that has only lost its connection."""
    target = tmp_path / "1-40mm.h5"
    with WorkFile(sweeping.beside(target)) as held:
        assert sweeping.compute(CUP_40, tmp_path).status == "finished"
        assert held.working.exists()
    assert read_result(target).status == "finished"


@pytest.mark.slow
def test_a_whole_result_of_a_worker_that_was_killed_is_not_computed_again(tmp_path):
    """It had put its result in place and died before it could tell the scheduler, or had not even
    renamed it."""
    target = tmp_path / "1-40mm.h5"
    sweeping.compute(CUP_40, tmp_path)
    written = target.stat().st_mtime_ns
    for name in (target, sweeping.beside(target)):
        target.rename(name)
        assert sweeping.compute(CUP_40, tmp_path).status == "finished"
        assert target.stat().st_mtime_ns == written
        assert [path.name for path in tmp_path.iterdir()] == [target.name]


@pytest.mark.slow
def test_what_is_left_of_another_case_is_not_gone_on_with(tmp_path):
    target = tmp_path / "1-40mm.h5"
    stop = Interruption(0.02, KeyboardInterrupt())
    run(case_of(THICK.format(density=1600)), sweeping.beside(target), progress=stop)
    assert sweeping.compute(CUP_40, tmp_path).status == "finished"
    assert read_result(target).attrs["case_text"] == CUP


def test_result_that_is_not_in_the_folder_is_no_success(monkeypatch, tmp_path):
    """As on a cluster whose workers see another folder of that name."""

    def elsewhere(case: Case, output: Path, resume: bool = False) -> RunResult:
        return run(case, tmp_path / "elsewhere.h5", overwrite=True)

    monkeypatch.setattr(sweeping, "run", elsewhere)
    done = here(case_of(CUP), {"hole.diameter": "60mm"}, tmp_path / "a")
    assert done.runs[0].status == "failed"
    assert "workers see that folder" in done.runs[0].reason


@pytest.mark.slow
def test_ctrl_c_leaves_the_rest_waiting(monkeypatch, tmp_path):
    def stop(progress: QueueProgress) -> None:
        if progress.done == 1:
            raise KeyboardInterrupt

    done = here(case_of(CUP), HOLES, tmp_path / "a", progress=stop)
    assert sorted(run_.status for run_ in done.runs) == ["finished", "waiting", "waiting"]
    assert read_sweep(done.folder) == done


def test_index_that_cannot_be_read_is_refused(tmp_path):
    with pytest.raises(ResultError, match="no such file"):
        read_sweep(tmp_path)
    (tmp_path / INDEX).write_bytes(b"no index")
    with pytest.raises(ResultError, match="is not a sinkbowl sweep"):
        sweep(case_of(CUP), HOLES, tmp_path)


def kill_self_unless(mark: Path, times: int) -> str:
    """A task that is killed the first times; returns the settings of its process then."""
    tried = len(list(mark.parent.glob(f"{mark.name}*")))
    mark.with_name(f"{mark.name}{tried}").touch()
    if tried < times:
        os.kill(os.getpid(), signal.SIGKILL)
    return os.environ["NUMBA_NUM_THREADS"]


@pytest.mark.slow
def test_lost_process_is_noted_and_its_task_begun_again(tmp_path):
    """A task that is killed each time is given up; its neighbours do not notice."""
    lost = []
    with ProcessPool(2, lambda mark, times: lost.append(mark.name)) as pool:
        tasks = [
            pool.submit(kill_self_unless, tmp_path / name, times)
            for name, times in (("once", 1), ("always", 99), ("never", 0))
        ]
        assert tasks[0].result() == tasks[2].result()
        assert int(tasks[0].result()) >= 1
        with pytest.raises(RunError, match="ended unexpectedly"):
            tasks[1].result()
    assert lost.count("once") == 1
    assert lost.count("always") == ATTEMPTS
    assert lost.count("never") == 0


def sleep_until(mark: Path) -> None:
    mark.touch()
    time.sleep(60.0)
    mark.with_suffix(".done").touch()


def test_losses_told_by_many_threads_are_all_counted(tmp_path):
    """Each process of the pool is watched by a thread of its own."""
    plan = plan_sweep(case_of(CUP), {"hole.diameter": "40mm"})
    run_ = plan.runs[0]
    log = open_log(tmp_path, plan, {run_.name: 1}, None)
    with ThreadPoolExecutor(8) as threads:
        for _ in range(24):
            threads.submit(log.lost, run_, tmp_path)
    assert read_sweep(tmp_path).runs[0].losses == 24


@pytest.mark.slow
def test_pool_can_be_stopped_in_the_middle_of_its_work(tmp_path):
    pool = ProcessPool(1, lambda mark: pytest.fail("taken for lost"))
    task = pool.submit(sleep_until, tmp_path / "mark")
    while not (tmp_path / "mark").exists():
        time.sleep(0.02)
    begin = time.monotonic()
    pool.stop()
    assert task.exception() is not None
    assert time.monotonic() - begin < 30.0
    assert not (tmp_path / "mark.done").exists()


@pytest.mark.slow
def test_a_sweep_on_several_grids_has_error_bars_and_knows_its_runs_again(tmp_path):
    """A result of one grid is not enough where three are wanted."""
    over, folder = {"hole.diameter": "60mm"}, tmp_path / "a"
    with ThreadPoolExecutor(1) as executor:
        (only,) = sweep(case_of(STEEL), over, folder, executor=executor).runs
        assert read_result(folder / only.file).grids == 1
        (only,) = sweep(case_of(STEEL), over, folder, executor=executor, levels=3).runs
        result = read_result(folder / only.file)
        assert only.status == "finished"
        assert result.grids == 3
        assert result.uncertainty is not None
        before = snapshot(folder)
        sweep(case_of(STEEL), over, folder, executor=executor, levels=3)
        assert snapshot(folder)[only.file] == before[only.file]
    assert sorted(path.name for path in folder.glob("*.h5")) == [only.file, "index.h5"]


@pytest.mark.slow
def test_a_sweep_with_members_has_medians_and_intervals_and_goes_on(tmp_path):
    """The index tells of every run what its file tells; the same again computes nothing, and what
    a worker left of its members is gone on with."""
    over, folder = {"hole.diameter": "60mm"}, tmp_path / "a"
    target = folder / "1-60mm.h5"
    with ThreadPoolExecutor(1) as executor:
        (only,) = sweep(case_of(CUP), over, folder, executor=executor, members=2, seed=4).runs
        result = read_result(target)
        assert (only.members, result.members, result.seed) == (2, 2, 4)
        assert only.sinking_time == result.sinking_time
        assert only.interval == result.interval
        assert read_sweep(folder).runs == (only,)
        before = snapshot(folder)
        sweep(case_of(CUP), over, folder, executor=executor, members=2, seed=4)
        sweep(case_of(CUP), over, folder, executor=executor)
        assert snapshot(folder) == before
        target.unlink()
        left = beside(sweeping.beside(target), "grid0-member001.h5")
        run(result.case, left, disturbance=drawn(4, 1))
        with edited(left) as file:
            file.attrs["title"] = "computed before"
        sweep(case_of(CUP), over, folder, executor=executor, members=2, seed=4)
    again = read_result(target)
    assert again.member_times == result.member_times
    assert (again.title == "computed before") == (again.attrs["median_member"] == 1)
    assert sorted(path.name for path in folder.iterdir()) == [".lock", target.name, INDEX]


@pytest.mark.slow
def test_the_index_holds_both_ends_of_the_interval(swept):
    """Read with h5py alone; of single runs by the table of repeat runs."""
    with h5py.File(swept[0].folder / INDEX) as file:
        low, time, high = (file[f"runs/{name}"][:] for name in ("low", "sinking_time", "high"))
        assert np.all((low < time) & (time < high))
        assert list(file["runs/members"]) == [1, 1, 1]
        assert list(file["runs/scatter_from"].asstr()) == 3 * ["table"]


@pytest.mark.slow
def test_runs_are_titled_by_what_was_varied(swept):
    done = swept[0]
    titles = [read_result(done.folder / run_.file).title for run_ in done.runs]
    assert [title.partition(", ")[2] for title in titles] == [
        f"hole diameter {run_.written[0]}" for run_ in done.runs
    ]
