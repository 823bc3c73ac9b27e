"""Computation of one run of a sweep by a worker, and the check that it is finished."""

from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from uuid import uuid4

from sinkbowl.common.errors import ResultError, SinkbowlError
from sinkbowl.files.result import Result, read_result
from sinkbowl.files.resumption import result_of
from sinkbowl.files.safe_writing import put_in_place
from sinkbowl.running.members import run_grids, run_members
from sinkbowl.running.runner import RunResult, run
from sinkbowl.sweeps.plan import PlannedRun

BESIDE = ".sweep-"  # beginning of the names of incomplete files


def _ended(path: Path) -> bool:
    """Whether a result exists and cannot be resumed, as after a full disk."""
    try:
        return read_result(path).status != "running"
    except ResultError:
        return False


def beside(target: Path, mark: str = "") -> Path:
    """The file of a run before its result is renamed."""
    return target.with_name(f"{BESIDE}{mark}{target.name}")


@dataclass(frozen=True)
class TaskEnd:
    """End of a run: status, reason of a failure, and wall time [s], None if unknown."""

    status: str
    reason: str
    wall_seconds: float | None


def compute(planned: PlannedRun, folder: Path) -> TaskEnd:
    """Compute or continue a run; its result is renamed when complete.

    A run may be computed twice at the same time, by a lost worker and its successor: each writes
    its own file, and the first result stays. A complete result of a killed worker is not computed
    again.

    folder : of its result file, which is replaced if it is of another run or incomplete
    """
    target = folder / planned.file
    aside = beside(target)
    begin = monotonic()
    if finished(planned, target):
        return TaskEnd("finished", "", None)
    status, reason = "finished", ""
    try:
        if not finished(planned, aside):  # by a worker that was killed before it could rename it
            try:
                done = _sink(planned, aside, resume=True)
            except ResultError:  # another worker computes it, or it cannot be resumed
                aside = beside(target, f"{uuid4().hex[:12]}-")
                done = _sink(planned, aside, resume=False)
            status, reason = done.status, "" if done.status == "finished" else done.outcome
    except SinkbowlError as error:
        status, reason = "failed", str(error).replace(str(aside), str(target))
    if _ended(aside):
        if status == "finished" and finished(planned, target):
            aside.unlink()  # another worker was first
        else:
            with aside.open("r+b") as whole:
                put_in_place(whole, aside, target)
    return TaskEnd(status, reason, monotonic() - begin)


def _sink(planned: PlannedRun, aside: Path, resume: bool) -> RunResult:
    """Compute or continue a run, one release and grid after the other."""
    case, levels = planned.case, planned.levels
    if planned.members > 1:
        return run_members(
            case, aside, planned.members, seed=planned.seed, levels=levels, resume=resume, workers=1
        ).median
    if levels > 1:
        return run_grids(case, aside, levels, resume=resume).finest
    return run(case, aside, resume=resume)


def finished(planned: PlannedRun, path: Path) -> Result | None:
    """The result of a run; None if its file is not the finished one of this case.

    Also None if it has another number of grids or members. Comments in the text do not count.
    """
    try:
        result = result_of(path, planned.case, remarks=False)
    except ResultError:
        return None
    if result is None or result.status != "finished":
        return None
    wanted = planned.levels in (1, result.grids) and planned.members in (1, result.members)
    wanted = wanted and (planned.members == 1 or planned.seed == result.seed)
    return result if wanted else None
