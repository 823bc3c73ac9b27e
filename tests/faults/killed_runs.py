"""Runs of a coarse cup that are killed at random moments and taken up again until they end.

Kernels are compiled once, here; each run is then a forked child, killed with SIGKILL.
"""

import os
import random
import signal
import time
import traceback
from functools import partial
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from coarse_cups import THICK
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import read_result
from sinkbowl.running import ensemble_runs, runner
from sinkbowl.running.members import run_grids

CUP = THICK.format(density=1500)
FINE = CUP.replace('cell = "10 mm"', 'cell = "5 mm"').replace('"resolved"', '"closed"')
"""The same on cells of 5 mm, the coarsest from which two coarser grids can be made."""

LONGEST_LIFE = 0.7
"""What a run is given at most before it is killed, as a share of the time that all of it takes."""

MOST_WAIT = 300.0  # wall time after which a run counts as stuck [s]


def sink(path: Path, grids: int = 1) -> None:
    """Sink the cup, or sink it on, with a checkpoint after nearly every step."""
    runner.CHECKPOINT_SHARE = 1.0
    often = partial(runner.run, frame_interval=0.02, checkpoint_every=0.0)
    case = parse_case(CUP if grids == 1 else FINE, Path(), "cup.toml")
    if grids == 1:
        often(case, path, resume=True)
    else:
        ensemble_runs.run = often
        run_grids(case, path, grids, resume=True)


def forked(path: Path, grids: int) -> int:
    """Process id of a child that sinks the cup."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            sink(path, grids)
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(status)
    return child


def ended(child: int, life: float) -> int | None:
    """Exit status of a child that ends within its life [s]; None if it had to be killed."""
    until = time.monotonic() + life
    while time.monotonic() < until:
        if (status := os.waitpid(child, os.WNOHANG))[0]:
            return os.waitstatus_to_exitcode(status[1])
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    # It may have come to its end by itself just before.
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    return None if status == -signal.SIGKILL else status


def finished(path: Path) -> bool:
    """Whether a run that was killed had by then put its last result in place."""
    with h5py.File(path, "r") as file:
        return bool(file.attrs["status"] == "finished")


def wrong_with(path: Path) -> str:
    """What is wrong with a result after a kill: it must open, and hold whole rows up to now."""
    try:
        read_result(path)
        with h5py.File(path, "r") as file:
            t = file["history/t"][:]
            lengths = {len(column) for column in file["history"].values()}
            fields = file["frames/u_z"][-1]
            whole = lengths == {len(t)} and np.all(np.diff(t) > 0.0) and np.all(np.isfinite(fields))
            return "" if whole else "broken rows"
    except Exception as error:
        return repr(error)


def differences(path: Path, other: Path) -> list[str]:
    """Names of datasets and attributes in which two results are not the same to the bit."""
    found: list[str] = []
    with h5py.File(path, "r") as a, h5py.File(other, "r") as b:

        def look(name: str, item: h5py.Dataset | h5py.Group) -> None:
            same = name in b
            if same and isinstance(item, h5py.Dataset):
                same = item.shape == b[name].shape and item[()].tobytes() == b[name][()].tobytes()
            if not same:
                found.append(name)

        a["history"].visititems(lambda name, item: look(f"history/{name}", item))
        for group in ("frames", "grid"):
            a[group].visititems(lambda name, item, group=group: look(f"{group}/{name}", item))
        for name in ("name", "t"):
            if a[f"events/{name}"][:].tolist() != b[f"events/{name}"][:].tolist():
                found.append(f"events/{name}")
        found += [name for name in a.attrs if repr(a.attrs[name]) != repr(b.attrs.get(name))]
    return found


def kill(folder: Path, kills: int, seed: int, grids: int = 1) -> dict[str, Any]:
    """Kill and take up until that many kills are done and the last run came to its end.

    Returns the kills, how many of them came before a result was published, the runs that came to
    their end, and what is wrong with them (nothing, it is hoped).
    """
    whole, path = folder / "whole.h5", folder / "cup.h5"
    sink(whole)  # loads the kernels that the children are born with
    whole.unlink()
    begun = time.monotonic()
    assert ended(forked(whole, grids), MOST_WAIT) == 0
    longest, lives = LONGEST_LIFE * (time.monotonic() - begun), random.Random(seed)
    done, early, ends = 0, 0, 0
    wrong: list[str] = []
    status: int | None = None
    while done < kills or status is None:
        life = lives.uniform(0.0, longest) if done < kills else MOST_WAIT
        status = ended(forked(path, grids), life)
        if status is None:
            done += 1
            published = [*folder.glob(".cup.h5-*.h5"), *folder.glob("cup.h5")]
            early += not published
            problems = [problem for problem in map(wrong_with, published) if problem]
            wrong += problems
            if path.exists() and not problems and finished(path):
                status = 0
                sink_again(path, grids, wrong)
        if status is not None:
            ends += 1
            wrong += [f"exit status {status}"] if status else differences(whole, path)
            left = {file.name for file in folder.iterdir()} - {"whole.h5", "cup.h5"}
            wrong += [f"{name} lies about" for name in sorted(left)]
            path.unlink()
    return {"kills": done, "early": early, "ends": ends, "wrong": wrong}


def sink_again(path: Path, grids: int, wrong: list[str]) -> None:
    """Ask for a result that is finished: it is told, and what a kill left beside it is removed."""
    try:
        sink(path, grids)
        wrong.append("a finished run was gone on with")
    except ResultError as error:
        wrong += [] if "is finished" in str(error) else [str(error)]
