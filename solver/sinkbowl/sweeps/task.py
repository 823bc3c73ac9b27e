"""One run of a sweep, as a worker computes it, and how to tell that it is done."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from uuid import uuid4

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError, SinkbowlError
from sinkbowl.files.durable import put_in_place
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_reading import is_toml
from sinkbowl.running.members import run_grids, run_members
from sinkbowl.running.runner import RunResult, run
from sinkbowl.scatter.interval import TimeInterval

BESIDE = ".sweep-"
"""Beginning of the names of files that are not whole yet."""


def _ended(path: Path) -> bool:
    """Whether a result is there and not one that can be gone on with, as after a full disk."""
    try:
        return read_result(path).status != "running"
    except ResultError:
        return False


def beside(target: Path, mark: str = "") -> Path:
    """Where a run is written before its result takes its name."""
    return target.with_name(f"{BESIDE}{mark}{target.name}")


@dataclass(frozen=True)
class TaskEnd:
    """How a run ended: status, reason where it failed, and wall time [s], None if unknown."""

    status: str
    reason: str
    wall_seconds: float | None


def compute(case: Case, target: Path, levels: int = 1, members: int = 1, seed: int = 0) -> TaskEnd:
    """Compute a run, or go on with it; its result takes its name when it is whole.

    The same run may be computed twice at once, by a worker that was given up and by its successor:
    each writes a file of its own, and the first result stays. One that is whole already, of a
    worker that was killed before it could tell, is not computed again.

    Parameters
    ----------
    case : what to sink
    target : result file; replaced where it is another's, or not whole
    levels : on how many grids
    members, seed : how many releases, and the seed of their releases
    """
    aside = beside(target)
    begin = monotonic()
    if finished(case, target, levels, members, seed):
        return TaskEnd("finished", "", None)
    try:
        done, aside = _taken_up(case, target, levels, members, seed)
        status, reason = done.status, "" if done.status == "finished" else done.outcome
    except SinkbowlError as error:
        status, reason = "failed", str(error).replace(str(aside), str(target))
    if _ended(aside):
        if status == "finished" and finished(case, target, levels, members, seed):
            aside.unlink()  # another worker was first
        else:
            with aside.open("r+b") as whole:
                put_in_place(whole, aside, target)
    return TaskEnd(status, reason, monotonic() - begin)


def _taken_up(
    case: Case, target: Path, levels: int, members: int, seed: int
) -> tuple[RunResult, Path]:
    """How a run ended that was gone on with, or begun, and where it was written."""

    def sink(aside: Path, resume: bool) -> RunResult:
        if members > 1:
            return run_members(
                case, aside, members, seed=seed, levels=levels, resume=resume, workers=1
            ).median
        if levels > 1:
            return run_grids(case, aside, levels, resume=resume).finest
        return run(case, aside, resume=True) if resume else run(case, aside)

    aside = beside(target)
    try:
        return sink(aside, resume=True), aside
    except ResultError:  # another worker is at it, or it cannot be gone on with
        aside = beside(target, f"{uuid4().hex[:12]}-")
        return sink(aside, resume=False), aside


@dataclass(frozen=True)
class Found:
    """What a finished result file says: sinking time [s] or None, its interval, and outcome."""

    sinking_time: float | None
    interval: TimeInterval | None
    members: int
    outcome: str


def finished(
    case: Case, path: Path, levels: int = 1, members: int = 1, seed: int = 0
) -> Found | None:
    """What a result file says, None where it is not the finished result of this very case.

    Where several grids or members are wanted, nor where it holds another number of them.

    Remarks in the text do not count. The bowl's section is compared as well, for its outline may
    come from a file that the text only names.
    """
    try:
        result = read_result(path)
    except ResultError:
        return None
    text = str(result.attrs["case_text"])
    same = is_toml(text) and tomllib.loads(text) == tomllib.loads(case.text)
    same = same and np.array_equal(result.grid.get("outline", ()), case.bowl.polygon)
    wanted = levels == 1 or result.grids == levels
    wanted = wanted and (members == 1 or (result.members, result.seed) == (members, seed))
    if result.status != "finished" or not (same and wanted):
        return None
    return Found(result.sinking_time, result.interval, result.members, result.outcome)
