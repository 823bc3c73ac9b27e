"""Runs that are broken off go on to the very numbers of a run without a break, or say why not."""

import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import h5py
import numpy as np
import pytest

from coarse_cups import STEEL, Interruption, case_of
from console import call
from faults.killed_runs import CUP, differences
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import ResultError, RunError
from sinkbowl.files import checkpoint
from sinkbowl.files.result import read_result
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.flow.step import advance
from sinkbowl.running.runner import run
from synthetic import edited


def cup(text: str = CUP) -> Case:
    return parse_case(text, Path(), "cup.toml")


def whole_run(path: Path) -> Path:
    run(cup(), path, frame_interval=0.02)
    return path


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The result of a run without a break."""
    return whole_run(tmp_path_factory.mktemp("whole") / "cup.h5")


@pytest.mark.slow
@pytest.mark.parametrize("at", [0.0, 0.02, 0.1, 0.3])
def test_a_run_stopped_by_hand_goes_on_as_if_it_had_not_been(tmp_path, whole, at):
    path = tmp_path / "cup.h5"
    stop = Interruption(at, KeyboardInterrupt())
    first = run(cup(), path, progress=stop, frame_interval=0.02, checkpoint_every=0.05)
    assert first.status == read_result(path).status == "stopped"
    at_once = Interruption(0.0, KeyboardInterrupt())
    assert run(cup(), path, resume=True, progress=at_once).status == "stopped"
    last = run(cup(), path, resume=True)
    assert last.status == "finished"
    assert differences(whole, path) == []


def test_a_run_that_ended_at_the_rim_goes_on_as_if_it_had_not(tmp_path, whole):
    path = tmp_path / "cup.h5"
    first = run(cup(), path, to_the_rim=True, frame_interval=0.02)
    assert first.status == "stopped"
    assert first.sinking_time == read_result(path).events["rim_under"]
    assert "full" not in read_result(path).events
    run(cup(), path, resume=True)
    assert differences(whole, path) == []


@pytest.mark.slow
def test_a_floating_bowl_goes_on_to_the_same_rest(tmp_path):
    """The watch for rest is half way through its means when the run is stopped."""
    case = cup(CUP.replace("1500", "500"))
    run(case, tmp_path / "whole.h5", frame_interval=0.5)
    stop = Interruption(3.0, KeyboardInterrupt())
    run(case, tmp_path / "cup.h5", progress=stop, frame_interval=0.5, checkpoint_every=0.1)
    assert "half_sunk" not in read_result(tmp_path / "cup.h5").events
    run(case, tmp_path / "cup.h5", resume=True)
    assert "half_sunk" in read_result(tmp_path / "cup.h5").events
    assert differences(tmp_path / "whole.h5", tmp_path / "cup.h5") == []


def test_a_failed_run_goes_on_from_its_last_checkpoint(tmp_path, whole):
    path = tmp_path / "cup.h5"
    stop = Interruption(0.1, RunError("the lamp went out"))
    with pytest.raises(RunError, match="lamp"):
        run(cup(), path, progress=stop, frame_interval=0.02, checkpoint_every=0.05)
    assert read_result(path).status == "failed"
    run(cup(), path, resume=True)
    assert differences(whole, path) == []


def spoil(sim: Simulation) -> None:
    """Overwrite all that a step may use but must not carry over to the next.

    The fluxes through axis and tub wall are nothing, always: those two rows are no working space.
    """
    ops = sim.ops
    working = dict(vars(ops.scratch))
    working["flux_r"] = working["flux_r"][1:-1]
    stack = ops.solver.stack
    names = ("x", "b", "t", "diagonal", "pivot_z", "lower_z", "factor_z", "pivot_r", "factor_r")
    parts = ops.solver
    solver = [parts.vectors, parts.guess, parts.sums, parts.couplings.own, parts.heave, ops.crossed]
    for array in (*working.values(), *solver, *(getattr(stack, name) for name in names)):
        array[...] = True if array.dtype == bool else 0.7


def test_a_checkpoint_holds_all_that_decides_the_future(tmp_path):
    """A second simulation with spoilt working arrays, loaded from the first's checkpoint, moves to
    the same bits; in the splash too, when rows of cells run dry again."""
    text = STEEL.replace('"4 mm"', '"8 mm"') + 'hole = "resolved"\n'
    case = case_of(text.replace('"200 g"', '"300 g"'))
    first, second = initialise(case), initialise(case)
    with h5py.File(tmp_path / "state.h5", "w") as file:
        for stage in range(12):
            for _ in range(15):
                move(first)
            checkpoint.save(file.require_group("checkpoint"), {"flow": first.state})
            spoil(second)
            checkpoint.load(file["checkpoint"], {"flow": second.state})
            for _ in range(10):
                move(first)
                move(second)
            for field in fields(first.state):
                one, other = (getattr(v.state, field.name) for v in (first, second))
                assert np.asarray(one).tobytes() == np.asarray(other).tobytes(), (stage, field.name)


def move(sim: Simulation) -> None:
    advance(sim.state, sim.body(), sim.time_step(), sim.ops)


def broken_off(path: Path, case: Case | None = None) -> Path:
    """A run that was stopped by hand."""
    stop = Interruption(0.02, KeyboardInterrupt())
    run(case or cup(), path, progress=stop, frame_interval=0.02)
    return path


def test_a_damaged_checkpoint_is_refused_and_the_file_left_alone(tmp_path):
    path = broken_off(tmp_path / "cup.h5")
    with edited(path) as file:
        file["checkpoint/flow/u_z"][3, 3] += 1e-12
    before = path.read_bytes()
    with pytest.raises(ResultError, match=r"cup\.h5: cannot be resumed.*damaged"):
        run(cup(), path, resume=True)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


def test_a_run_of_a_case_that_was_edited_is_refused_with_the_difference(tmp_path):
    path = broken_off(tmp_path / "cup.h5")
    with pytest.raises(ResultError) as refused:
        run(cup(CUP.replace("40 mm", "38 mm")), path, resume=True)
    assert '\n-diameter = "40 mm"\n+diameter = "38 mm"' in str(refused.value)
    assert "--overwrite" in str(refused.value)
    assert read_result(path).status == "stopped"


def test_a_run_whose_outline_file_was_edited_is_refused(tmp_path, written):
    text = CUP.replace('"cup"', '"profile"\nprofile = "o.csv"').replace('base = "10 mm"', "")
    text = text.replace('radius = "50 mm"\nheight = "60 mm"\n', "", 1)
    outline = written("r [mm],z [mm]\n0,0\n50,0\n50,60\n", "o.csv")
    path = broken_off(tmp_path / "cup.h5", parse_case(text, tmp_path, "cup.toml"))
    outline.write_text("r [mm],z [mm]\n0,0\n50,0\n50,61\n")
    with pytest.raises(ResultError, match="another outline"):
        run(parse_case(text, tmp_path, "cup.toml"), path, resume=True)


def test_a_finished_run_says_that_there_is_nothing_to_go_on_with(whole):
    before = whole.read_bytes()
    with pytest.raises(ResultError, match=r"cup\.h5: is finished \(sinks: full\)"):
        run(cup(), whole, resume=True)
    assert whole.read_bytes() == before


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda file: file.pop("checkpoint"), "no checkpoint"),
        (lambda file: file.pop("checkpoint/flow/water"), "no flow/water"),
        (lambda file: file.attrs.pop("case_text"), "not a readable result"),
    ],
)
def test_a_file_that_cannot_be_gone_on_with_says_why(tmp_path, change, says):
    path = broken_off(tmp_path / "cup.h5")
    with edited(path) as file:
        change(file)
    with pytest.raises(ResultError, match=says):
        run(cup(), path, resume=True)


def test_a_file_that_is_no_result_is_not_gone_on_with(tmp_path):
    path = tmp_path / "cup.h5"
    path.write_text("notes of the workshop")
    with pytest.raises(ResultError, match="is not a sinkbowl result"):
        run(cup(), path, resume=True)
    assert path.read_text() == "notes of the workshop"


@pytest.mark.slow
def test_resume_on_the_command_line(tmp_path, capsys, refused, written):
    case, path = written(CUP), tmp_path / "cup.h5"
    assert call("run", case, "-o", path, "--resume", "--overwrite") == 2
    assert call("run", case, "-o", path, "--resume") == 0
    assert read_result(path).status == "finished"
    capsys.readouterr()
    assert "is finished" in refused("run", case, "-o", path, "--resume")


WATCHER = """
import sys, time
from sinkbowl.files.result import read_result
seen, frames = [], 0
print("ready", flush=True)
while not seen or seen[-1][0] == "running":
    try:
        result = read_result(sys.argv[1])
    except Exception as error:
        if seen or "no such file" not in str(error):
            print("cannot read", repr(error))
            break
        continue
    t = result.history["t"]
    if len(result.frames):
        fields = result.frames.fields(len(result.frames) - 1)
        frames = max(frames, len(result.frames))
    if not seen or (result.status, len(t)) != seen[-1]:
        seen.append((result.status, len(t)))
    time.sleep(0.002)
print(seen[-1][0], len(seen), frames, [n for _, n in seen] == sorted(n for _, n in seen))
"""


@pytest.mark.slow
def test_another_process_can_watch_a_run_in_progress(tmp_path, monkeypatch):
    """It polls history and frames all the time and sees them grow, never a broken file."""
    monkeypatch.setattr("sinkbowl.running.runner.CHECKPOINT_SHARE", 1.0)
    path = tmp_path / "cup.h5"
    watcher = subprocess.Popen(
        [sys.executable, "-c", WATCHER, str(path)], stdout=subprocess.PIPE, text=True
    )
    assert watcher.stdout.readline() == "ready\n"
    run(cup(), path, frame_interval=0.02, checkpoint_every=0.05)
    told, _ = watcher.communicate(timeout=60)
    status, states, frames, ascending = told.split()
    print(told)
    assert status == "finished"
    assert int(states) >= 6
    assert int(frames) == len(read_result(path).frames)
    assert ascending == "True"
