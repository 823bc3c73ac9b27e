"""Ensembles of coarse cups: what they leave, that they can be had again, and how they go on."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest

from coarse_cups import case_of
from console import call
from faults.killed_runs import CUP, FINE
from sinkbowl.common.errors import CaseError, ResultError, RunError
from sinkbowl.files.record import DATASETS, MEMBER_DATASETS, MEMBER_HISTORY
from sinkbowl.files.result import Result, read_result
from sinkbowl.running import ensemble_runs as ensemble_module
from sinkbowl.running.convergence import judge
from sinkbowl.running.ensemble_runs import left_beside, median_member
from sinkbowl.running.job_queue import QueueProgress
from sinkbowl.running.members import run_grids, run_members
from sinkbowl.running.merging import Members, median_time
from sinkbowl.running.runner import RunResult, run
from sinkbowl.scatter import drawn
from sinkbowl.scatter.interval import next_run
from synthetic import edited

SEED = 3


def many(path: Path, members: int = 3, **wishes: Any) -> Members:
    """An ensemble of the thick cup, in this process unless told otherwise."""
    return run_members(case_of(CUP), path, members, **({"seed": SEED, "workers": 1} | wishes))


@pytest.fixture(scope="module")
def ensemble(tmp_path_factory: pytest.TempPathFactory) -> tuple[Members, list[QueueProgress]]:
    """Three releases of the thick cup."""
    seen: list[QueueProgress] = []
    return many(tmp_path_factory.mktemp("many") / "cup.h5", progress=seen.append), seen


Ensemble = tuple[Members, list[QueueProgress]]


def differences(one: Result, other: Result) -> list[str]:
    """What two results do not share to the bit."""
    found = [n for n in one.history if one.history[n].tobytes() != other.history[n].tobytes()]
    for m in range(one.members):
        mine, yours = one.member(m), other.member(m)
        found += [f"{m}/{n}" for n in mine if mine[n].tobytes() != yours[n].tobytes()]
    if one.member_times != other.member_times:
        found.append("times")
    return found


def stop_at(share: float) -> Callable[[QueueProgress], None]:
    """A callback that ends the work by hand after a share of it."""

    def stop(now: QueueProgress) -> None:
        if now.fraction_done > share:
            raise KeyboardInterrupt

    return stop


@pytest.mark.slow
def test_the_file_holds_the_histories_of_all_and_the_frames_of_the_median(ensemble):
    done, _ = ensemble
    result = read_result(done.median.path)
    assert result.status == "finished"
    assert result.member_times == done.times
    assert result.members == 3
    assert result.seed == SEED
    assert result.sinking_time == np.median([time for time in done.times if time is not None])
    median = result.member(done.median_member)
    for name in MEMBER_HISTORY:
        assert np.array_equal(median[name], result.history[name])
    assert result.frames.t[-1] <= median["t"][-1]
    assert len(result.frames) > 5
    assert len(set(done.times)) == 3
    assert [path.name for path in done.median.path.parent.iterdir()] == ["cup.h5"]


@pytest.mark.slow
def test_every_dataset_of_the_members_has_unit_description_and_dims(ensemble):
    """Read with h5py alone."""
    with h5py.File(ensemble[0].median.path) as file:
        for entry in MEMBER_DATASETS:
            assert file[entry.name].attrs["units"] == entry.units
            assert file[entry.name].attrs["description"] == entry.description
            assert tuple(dim.label for dim in file[entry.name].dims) == entry.dims
        entries = {d.column: d for d in DATASETS if d.group == "history"}
        for m in range(3):
            assert set(file[f"members/{m}"]) == set(MEMBER_HISTORY)
            for name in MEMBER_HISTORY:
                assert file[f"members/{m}/{name}"].attrs["units"] == entries[name].units
        releases = [drawn(SEED, m) for m in range(3)]
        assert list(file["members/draft_offset"]) == [release.draft for release in releases]
        assert list(file["members/wave"]) == [release.wave for release in releases]
        assert file.attrs["release_wave_m"] == releases[ensemble[0].median_member].wave


@pytest.mark.slow
def test_the_interval_is_that_of_the_members(ensemble):
    done, _ = ensemble
    result = read_result(done.median.path)
    assert result.interval == done.median.interval
    known = [time for time in done.times if time is not None]
    assert result.interval.mean == pytest.approx(np.mean(known), rel=1e-12)
    assert result.attrs["sinking_time_low_s"] == result.interval.low
    assert result.attrs["sinking_time_high_s"] == result.interval.high
    assert "Mean of 3 runs" in repr(done)
    assert "Mean of 3 runs" in repr(result)
    assert "<td" in done._repr_html_()


@pytest.mark.slow
def test_progress_rises_to_the_whole(ensemble):
    _, seen = ensemble
    shares = [now.fraction_done for now in seen]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)
    assert (seen[-1].done, seen[-1].total) == (3, 3)


@pytest.mark.slow
def test_two_processes_give_the_same_bits_as_one(ensemble, tmp_path):
    again = many(tmp_path / "cup.h5", workers=2)
    one, other = read_result(ensemble[0].median.path), read_result(again.median.path)
    assert differences(one, other) == []
    assert {n: v for n, v in one.attrs.items() if v == v} == {
        n: v for n, v in other.attrs.items() if v == v
    }


@pytest.mark.slow
def test_a_smaller_ensemble_of_the_seed_is_part_of_the_larger_one_and_that_of_another_is_not(
    ensemble, tmp_path
):
    fewer = many(tmp_path / "cup.h5", 2)
    assert fewer.times == ensemble[0].times[:2]
    other = many(tmp_path / "other.h5", 2, seed=SEED + 1)
    assert not set(other.times) & set(ensemble[0].times)


@pytest.mark.slow
def test_a_member_is_a_run_of_its_own_release(ensemble, tmp_path):
    alone = run(case_of(CUP), tmp_path / "cup.h5", disturbance=drawn(SEED, 1))
    assert alone.sinking_time == ensemble[0].times[1]


def test_the_median_member_is_the_nearest_one():
    """Of the two in the middle of an even number the quicker; a dry rim comes last."""
    assert median_member([0.5, 0.4, 0.6]) == 0
    assert median_member([0.5, 0.4, 0.6, 0.7]) == 0
    assert median_member([0.7, 0.5, None, 0.4]) == 1
    assert median_time([0.5, 0.4, 0.6, 0.7]) == pytest.approx(0.55)
    assert median_time([0.5, None, 0.6]) == 0.6
    assert median_time([None, None, 0.6]) is None


def failing_at(member: int, real: Any = run) -> Any:
    """`run`, but that the release of one member breaks down."""

    def faulty(case: Any, output: Path, **wishes: Any) -> RunResult:
        if wishes["disturbance"] == drawn(SEED, member):
            raise RunError("At t = 0.1 s, the lamp went out.")
        done: RunResult = real(case, output, **wishes)
        return done

    return faulty


@pytest.mark.slow
def test_a_member_that_fails_is_named_and_the_others_are_kept(monkeypatch, ensemble, tmp_path):
    path = tmp_path / "cup.h5"
    monkeypatch.setattr(ensemble_module, "run", failing_at(1))
    with pytest.raises(RunError, match=r"cup\.h5: member 1 on grid 0 .*the lamp went out"):
        many(path)
    assert not path.exists()
    kept = {
        file.name: file.stat().st_mtime_ns for file in left_beside(path) if file.suffix == ".h5"
    }
    assert len(kept) == 2
    calls: list[Path] = []

    def counted(case: Any, output: Path, **wishes: Any) -> RunResult:
        calls.append(output)
        return run(case, output, **wishes)

    monkeypatch.setattr(ensemble_module, "run", counted)
    with pytest.raises(ResultError, match="2 runs of an interrupted ensemble"):
        many(path)
    done = many(path, resume=True)
    assert [path.name[-12:] for path in calls] == ["member001.h5"] * 2  # it is the median, too
    assert done.times == ensemble[0].times
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


@pytest.mark.slow
def test_an_ensemble_stopped_by_hand_goes_on_to_the_same_bits(ensemble, tmp_path):
    path = tmp_path / "cup.h5"

    with pytest.raises(RunError, match=r"stopped by hand with 1 of 3 runs done.*--resume"):
        many(path, progress=stop_at(0.5))
    assert not path.exists()
    many(path, resume=True)
    assert differences(read_result(ensemble[0].median.path), read_result(path)) == []


@pytest.mark.slow
def test_another_seed_is_not_gone_on_with(tmp_path):
    path = tmp_path / "cup.h5"

    with pytest.raises(RunError, match="stopped"):
        many(path, progress=stop_at(0.1))
    with pytest.raises(ResultError, match=r"another release.*--seed"):
        many(path, resume=True, seed=SEED + 1)
    assert many(path, 2, seed=SEED + 1, overwrite=True).seed == SEED + 1
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


@pytest.mark.slow
def test_what_is_no_interrupted_ensemble_is_left_alone(ensemble, tmp_path):
    path = ensemble[0].median.path
    before = path.read_bytes()
    with pytest.raises(ResultError, match="exists"):
        many(path)
    with pytest.raises(ResultError, match=r"is finished.*no members"):
        many(path, resume=True)
    assert path.read_bytes() == before
    single = tmp_path / "single.h5"
    single.write_bytes(before)
    with edited(single) as file:
        file.attrs["status"] = "running"
    with pytest.raises(ResultError, match="single run that was interrupted"):
        many(single, resume=True)


@pytest.mark.parametrize("members", [0, 1, -3, 10**6])
def test_numbers_of_members_are_refused_with_a_sentence(members, tmp_path, refused, written):
    case, wish = written(CUP), ("--members", members, "-o", tmp_path / "out")
    for command in (("run", case), ("sweep", case, "--over", "hole.diameter=40mm,50mm")):
        told = refused(*command, *wish)
        assert told.startswith(f"sinkbowl: --members = {members} ")
        assert "Give 2 to 100" in told
        assert not (tmp_path / "out").exists()
    with pytest.raises(ValueError, match="members must be 2 to 100"):
        many(tmp_path / "cup.h5", members)


@pytest.mark.parametrize(
    ("wishes", "says"),
    [
        (("--seed", "2"), "--seed = 2 has no effect"),
        (("--members", "2", "--seed", "-1"), "--seed = -1 is out of range"),
    ],
)
def test_wishes_that_do_not_go_together_are_refused_with_a_sentence(
    wishes, says, tmp_path, refused, written
):
    case = written(CUP)
    assert says in refused("run", case, *wishes, "-o", tmp_path / "out.h5")
    assert [file.name for file in tmp_path.iterdir()] == ["cup.toml"]


@pytest.mark.slow
def test_a_single_run_does_not_begin_over_an_interrupted_ensemble(tmp_path, refused, written):
    case, path = written(CUP), tmp_path / "cup.h5"
    (tmp_path / ".cup.h5-grid0-member000.h5").write_bytes(b"left")
    for wish in ((), ("--resume",)):
        assert "interrupted ensemble" in refused("run", case, "-o", path, *wish)
    assert call("run", case, "-o", path, "--overwrite") == 0
    assert not left_beside(path)


@pytest.mark.slow
def test_members_and_grids_are_one_result(tmp_path):
    """Means of the grids, the index of convergence on them, the scatter of the finest."""
    path = tmp_path / "cup.h5"
    done = run_members(case_of(FINE), path, 2, seed=1, levels=3, workers=1)
    result = read_result(path)
    assert result.grids == 3
    with h5py.File(path) as file:
        times = file["grids/member_time"][:]
        assert list(file["grids/sinking_time"]) == list(times.mean(axis=1))
        assert tuple(times[0]) == done.times
        assert file["grids/draft"].shape == (3, 101)
    means = tuple(times.mean(axis=1))
    assert done.levels.sinking_times == means
    verdict, _ = judge(done.levels.cells, means)
    assert done.median.interval.grid == verdict.uncertainty == result.uncertainty
    assert done.median.interval.mean == pytest.approx(np.mean(times[0]), rel=1e-12)
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


@pytest.mark.slow
def test_grids_go_on_where_they_were_stopped(tmp_path):
    path, whole = tmp_path / "cup.h5", tmp_path / "whole.h5"

    with pytest.raises(RunError, match="Continue with --resume"):
        run_grids(case_of(FINE), path, progress=stop_at(0.8))
    assert len(left_beside(path)) > 1
    run_grids(case_of(FINE), path, resume=True)
    run_grids(case_of(FINE), whole)
    assert differences(read_result(whole), read_result(path)) == []
    assert sorted(file.name for file in tmp_path.iterdir()) == ["cup.h5", "whole.h5"]


def test_grids_that_differ_by_chance_alone_are_called_so():
    """Means that are 1 ms apart and known to 2 ms each."""
    _, warning = judge([1e-3, 1.4e-3, 2e-3], [0.5, 0.501, 0.504], [2e-3, 2e-3, 2e-3])
    assert "scatter of their means" in warning
    _, warning = judge([1e-3, 1.4e-3, 2e-3], [0.5, 0.501, 0.504], [2e-4, 2e-4, 2e-4])
    assert "chance" not in warning


@pytest.mark.slow
def test_the_command_prints_one_object_with_members_and_interval(
    tmp_path, answer, figures, written
):
    """In real processes, as from the shell."""
    case, path = written(CUP), tmp_path / "cup.h5"
    told = figures("run", case, "-o", path, "--members", 2, "--seed", SEED)
    assert told["members"] == len(told["members_s"]) == 2
    assert told["seed"] == SEED
    assert told["sinking_time_s"] == pytest.approx(np.mean(told["members_s"]))
    low, high = told["interval_s"]
    assert low < told["sinking_time_s"] < high
    compared = figures("compare", path)
    assert compared["flow"]["interval_s"] == told["interval_s"]
    row = compared["repeat_runs"]
    assert row["hole_ratio"] == pytest.approx(0.5)
    times = told["members_s"]
    assert row["scatter"] == pytest.approx(next_run(times) / np.mean(times))
    assert compared["best"] == told["best"]
    assert "±" in answer("compare", path)


@pytest.mark.slow
def test_a_single_run_prints_that_it_is_one_run(tmp_path, answer, written):
    case, path = written(CUP), tmp_path / "cup.h5"
    told = answer("run", case, "-o", path)
    assert "One run; \u00b1 at 95 %: " in told
    assert " ± " in told.splitlines()[0]
    result = read_result(path)
    assert result.attrs["members"] == 1
    assert 0.0 < result.attrs["sinking_time_low_s"] < result.attrs["sinking_time_s"]
    assert result.attrs["sinking_time_s"] < result.attrs["sinking_time_high_s"]


def test_an_ensemble_that_cannot_be_computed_leaves_nothing(tmp_path):
    with pytest.raises(CaseError, match="too coarse for 3 grids"):
        many(tmp_path / "cup.h5", 2, levels=3)
    assert list(tmp_path.iterdir()) == []
