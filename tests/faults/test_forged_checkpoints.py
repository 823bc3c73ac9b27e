"""Results that were changed by someone who means harm, sums and seal put right, and gone on with.

Each is refused before the first step, in a sentence, and stays as it was. What slips through as
numbers that a bowl might have may spoil that run, never a file or a process.
"""

import shutil
import zlib
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from coarse_cups import Interruption, case_of
from faults.killed_runs import CUP, differences
from sinkbowl.common.errors import ResultError, RunError
from sinkbowl.files import checkpoint
from sinkbowl.files.record import HISTORY
from sinkbowl.files.recorder import Recorder
from sinkbowl.files.result import read_result
from sinkbowl.running.runner import run
from synthetic import edited

STORED: list[str] = []  # names of all fields of a checkpoint, in its order


@pytest.fixture(scope="module")
def broken_off(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run stopped after a checkpoint or two; it has events, frames and some steps."""
    path = tmp_path_factory.mktemp("forged") / "cup.h5"
    stop, save = Interruption(0.05, KeyboardInterrupt()), checkpoint.save

    def noted(group: h5py.Group, parts: checkpoint.Parts) -> None:
        STORED[:] = [name for _, _, name in checkpoint._fields(parts)]
        save(group, parts)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(checkpoint, "save", noted)
        run(case_of(CUP), path, progress=stop, frame_interval=0.02, checkpoint_every=0.0)
    assert len(read_result(path).history["t"]) > 10
    return path


def put(name: str, value: object) -> Callable[[h5py.File], None]:
    """Set a dataset, all of it or its first number, and put the checkpoint's sum right."""

    def change(file: h5py.File) -> None:
        if file[name].shape:
            file[name][(0,) * file[name].ndim] = value
        else:
            file[name][...] = value
        sum_up(file)

    return change


def sum_up(file: h5py.File) -> None:
    """The sum over all fields, in the order in which the checkpoint keeps them."""
    group, digest = file["checkpoint"], 0
    for name in STORED:
        digest = zlib.crc32(group[name][()].tobytes(), digest)
    group.attrs["checksum"] = digest


def count(name: str, value: object) -> Callable[[h5py.File], None]:
    def change(file: h5py.File) -> None:
        del file["checkpoint"].attrs[name]
        file["checkpoint"].attrs[name] = value

    return change


def again(name: str, **how: object) -> Callable[[h5py.File], None]:
    """Store a dataset in another way, its numbers as they are."""

    def change(file: h5py.File) -> None:
        data = file[name][()]
        del file[name]
        file.create_dataset(name, data=how.pop("data", data), **how)

    return change


def longer(file: h5py.File) -> None:
    """A history that goes on behind the checkpoint's time, and is counted."""
    rows = file["history/t"].shape[0]
    for name, column in file["history"].items():
        column.resize(rows + 1, axis=0)
        column[rows] = column[rows - 1] + (name == "t")
    count("history_rows", rows + 1)(file)


FORGED: dict[str, Callable[[h5py.File], object]] = {
    "rows beyond number": count("history_rows", 2**40),
    "rows below nothing": count("history_rows", -1),
    "half a row": count("history_rows", 1.5),
    "rows in words": count("history_rows", "many"),
    "a list of rows": count("history_rows", np.arange(3)),
    "no rows": lambda f: f["checkpoint"].attrs.pop("history_rows"),
    "fewer rows": count("history_rows", 3),
    "no row at all": count("history_rows", 0),
    "events beyond number": count("events_rows", 2**40),
    "frames that are not there": count("frames_rows", 10_000),
    "a sum in words": count("checksum", "right"),
    "a longer history": longer,
    "nan in a conservation budget": put("checkpoint/ledgers/impulse", np.nan),
    "inf in a conservation budget": put("checkpoint/ledgers/start_energy", np.inf),
    "nan in normals": put("checkpoint/flow/normal", np.nan),
    "nan in a pressure": put("checkpoint/flow/pressure", np.nan),
    "nan for the speed": put("checkpoint/flow/speed", np.nan),
    "a speed beyond belief": put("checkpoint/flow/speed", 1e300),
    "another time": put("checkpoint/flow/time", 0.5),
    "time nan": put("checkpoint/flow/time", np.nan),
    "a row above the grid": put("checkpoint/flow/top", 10**9),
    "a row below the grid": put("checkpoint/flow/bottom", -(10**9)),
    "no pace of frames": put("checkpoint/frame_pace/interval", 0.0),
    "frames backwards": put("checkpoint/frame_pace/interval", -1.0),
    "nan for the next frame": put("checkpoint/frame_pace/next", np.nan),
    "water thrown out, nan": put("checkpoint/ledger_watch/thrown_out", np.nan),
    "a checkpoint of words": again("checkpoint/flow/water", data=np.array(["a", "b"], "S1")),
    "a checkpoint of single precision": again("checkpoint/flow/water", dtype="f4"),
    "a checkpoint that is a number": lambda f: (f.pop("checkpoint"), f.update({"checkpoint": 1})),
    "history nan": put("history/draft", np.nan),
}
SOUND: dict[str, Callable[[h5py.File], object]] = {
    "nothing": lambda f: None,
    "history in one piece": again("history/draft"),
    "history that may not grow": again("history/draft", chunks=(5,)),
    "history in chunks of hundred megabytes": again(
        "history/draft", chunks=(2**24,), maxshape=(None,), compression="gzip"
    ),
    "frames in one piece": again("frames/pressure"),
    "events in one piece": again("events/t"),
    "a checkpoint that is packed": again("checkpoint/flow/water", compression="gzip"),
}
"""Ways that a file may be stored in; the run that goes on does not mind."""


def forged(broken_off: Path, place: Path, change: Callable[[h5py.File], object]) -> Path:
    path = place / "cup.h5"
    shutil.copy(broken_off, path)
    with edited(path) as file:
        change(file)
    return path


@pytest.mark.parametrize("how", FORGED)
def test_a_forged_checkpoint_is_refused_in_a_sentence(broken_off, tmp_path, how):
    path = forged(broken_off, tmp_path, FORGED[how])
    before = path.read_bytes()
    with pytest.raises(ResultError, match=r"cup\.h5: ") as refused:
        run(case_of(CUP), path, resume=True)
    print(refused.value)
    assert "\n" not in str(refused.value)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


@pytest.mark.slow
@pytest.mark.parametrize("how", SOUND)
def test_however_a_result_is_stored_the_run_goes_on_to_the_same_end(broken_off, tmp_path, how):
    path = forged(broken_off, tmp_path, SOUND[how])
    run(case_of(CUP), path, resume=True)
    run(case_of(CUP), tmp_path / "whole.h5", frame_interval=0.02)
    assert differences(tmp_path / "whole.h5", path) == []
    with h5py.File(path) as file:
        assert {column.chunks for column in file["history"].values()} == {(2048,)}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_numbers_that_might_be_a_bowls_spoil_a_run_and_never_its_file(broken_off, tmp_path, seed):
    """Any number of any field: the run ends somehow, in order, and its file is read."""
    rng = np.random.default_rng(seed)

    def change(file: h5py.File) -> None:
        for part in ("flow", "ledgers", "frame_pace", "closed_air"):
            name = rng.choice(sorted(set(file[f"checkpoint/{part}"]) - {"time"}))
            put(f"checkpoint/{part}/{name}", rng.choice((-1.0, 0.0, 1.0, 3.0, 1e6, -1e11)))(file)

    path = forged(broken_off, tmp_path, change)
    try:
        run(case_of(CUP), path, resume=True)
    except (ResultError, RunError) as error:
        print(error)
    assert read_result(path).status in ("finished", "failed", "stopped")
    assert [file.name for file in tmp_path.iterdir()] == ["cup.h5"]


@pytest.mark.parametrize("value", [np.nan, np.inf, -1e13])
def test_a_step_that_no_reader_would_take_is_never_written(tmp_path, value):
    path = tmp_path / "cup.h5"
    row = dict.fromkeys(HISTORY, 0.5)
    with Recorder.create(path, case_of(CUP)) as recorder:
        recorder.append_history(row)
        with pytest.raises(RunError, match="gives values that are not numbers: draft"):
            recorder.append_history(row | {"draft": value})
        recorder.finish("failed", None)
    result = read_result(path)
    assert result.status == "failed"
    assert result.history["draft"].tolist() == [0.5]
