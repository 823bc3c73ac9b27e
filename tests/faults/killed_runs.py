"""Runs of a coarse cup that are killed at random moments and taken up again until they end.

    PYTHONPATH=tests python tests/faults/killed_runs.py FOLDER KILLS SEED

Kernels are compiled once, here; each run is then a forked child, killed with SIGKILL. Prints one
JSON object: kills, how many of them came before the first result was published, runs that came to
their end, and what is wrong with them (nothing, it is hoped).
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
import traceback
from pathlib import Path

import h5py
import numpy as np

from coarse_cups import THICK
from sinkbowl.case.case import parse_case
from sinkbowl.files.result import read_result
from sinkbowl.running import runner

CUP = THICK.format(density=1500)

LONGEST_LIFE = 1.0
"""Wall time that a run is given at most before it is killed [s]."""


def sink(path: Path) -> None:
    """Sink the cup, or sink it on, with a checkpoint after nearly every step."""
    runner.CHECKPOINT_SHARE = 1.0
    case = parse_case(CUP, Path(), "cup.toml")
    runner.run(case, path, resume=True, frame_interval=0.02, checkpoint_every=0.0)


def forked(path: Path) -> int:
    """Process id of a child that sinks the cup."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            sink(path)
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


def main(folder: Path, kills: int, seed: int) -> None:
    """Kill and take up until that many kills are done and the last run came to its end."""
    whole, path = folder / "whole.h5", folder / "cup.h5"
    sink(whole)
    lives = random.Random(seed)
    done, early, ends = 0, 0, 0
    wrong: list[str] = []
    status: int | None = None
    while done < kills or status is None:
        status = ended(forked(path), lives.uniform(0.0, LONGEST_LIFE) if done < kills else 60.0)
        if status is None:
            done += 1
            early += not path.exists()
            problem = wrong_with(path) if path.exists() else ""
            wrong += [problem] if problem else []
            if path.exists() and not problem and finished(path):
                status = 0
        if status is not None:
            ends += 1
            wrong += [f"exit status {status}"] if status else differences(whole, path)
            path.unlink()
    left = sorted(file.name for file in folder.iterdir())
    print(json.dumps({"kills": done, "early": early, "ends": ends, "wrong": wrong, "left": left}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
