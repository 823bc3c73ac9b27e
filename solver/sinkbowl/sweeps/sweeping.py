"""Parallel computation of many runs of a case with varied values, in one folder.

An interrupted sweep continues when it is called again.

Its state is stored on disk, but finished runs are found from the result files, not from the index.
A folder that holds another sweep is refused, with the difference. Workers compute the runs.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from threading import RLock
from time import monotonic
from typing import Any
from uuid import uuid4

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.errors import LONGEST, CaseError, ResultError, SinkbowlError
from sinkbowl.common.text_file import as_text
from sinkbowl.files.checkpoint import result_of
from sinkbowl.files.result import Result, read_result
from sinkbowl.files.safe_writing import hold, put_in_place
from sinkbowl.running.forecast import forecast
from sinkbowl.running.job_queue import OnProgress, QueueReporter, work_off
from sinkbowl.running.members import run_grids, run_members
from sinkbowl.running.process_pool import ProcessPool, cores
from sinkbowl.running.runner import RunResult, run
from sinkbowl.sweeps.index import INDEX, Sweep, SweepRun, read_sweep, write_index
from sinkbowl.sweeps.plan import Over, PlannedRun, SweepPlan, bowl_title, plan_sweep

LOCK = ".lock"


def sweep(
    case: Case,
    over: Over,
    folder: str | Path,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    levels: int = 1,
    members: int = 1,
    seed: int = 0,
    progress: OnProgress | None = None,
) -> Sweep:
    """Compute a sweep, or its missing runs.

    Ctrl-C stops it; finished runs stay, the others wait. A script that calls this without an
    executor needs ``if __name__ == "__main__":`` around its work.

    Parameters
    ----------
    case : the varied case
    over : dotted keys and their values, ``{"hole.diameter": "6mm:92mm:12"}`` or ``{"hole.diameter":
        [0.006, 0.01]}`` in SI units, all pairs of two keys; or a sequence of such mappings, one per
        run
    folder : created if missing; gets the index ``index.h5`` and one result file per run
    executor : for instance of a cluster whose workers see the same folder; default: processes on
        this machine
    workers : number of processes without an executor; default: one per core
    levels : number of grids per run, 1 or as in `run_grids`
    members, seed : number and seed of releases per run, as in `run_members`; 1 for the case's own
        release
    progress : called with the state of the sweep after each run

    Returns
    -------
    Sweep

    Raises
    ------
    CaseError : the plan is wrong; nothing is written
    ResultError : the folder contains another plan or other files, is used by another sweep, or
        cannot be written
    """
    plan = plan_sweep(case, over, levels, members, seed)
    work = {run.name: forecast(run.case).cell_steps for run in plan.runs}
    with _claimed(Path(folder)) as place:
        log = open_log(place, plan, work, progress)
        missing = sorted(log.missing(), key=lambda run: -work[run.name])
        jobs = {run.name: (run, place) for run in missing}
        count = min(workers or cores(), max(len(missing), 1))
        local = ProcessPool(count, log.lost)
        with nullcontext(executor) if executor else local as computing, suppress(KeyboardInterrupt):
            work_off(computing, compute, jobs, lambda name, future: log.end(name, _outcome(future)))
        log.clear_up()
        return log.state


def _outcome(future: Future[TaskEnd]) -> TaskEnd:
    """Result of a task, or its exception as the reason of the failure."""
    if future.cancelled():
        return TaskEnd("failed", "its executor cancelled it", None)
    error = future.exception()
    if error is None:
        return future.result()
    return TaskEnd("failed", f"{type(error).__name__}: {error}"[:LONGEST], None)


@contextmanager
def _claimed(folder: Path) -> Iterator[Path]:
    """The folder, created if needed and locked for one sweep; ResultError if it is unusable."""
    folder = folder.absolute()
    try:
        folder.mkdir(exist_ok=True)
        strange = any(folder.iterdir()) and not {INDEX, LOCK} & set(os.listdir(folder))
        if strange:
            raise ResultError(f"{folder}: is not empty and contains no sweep. Give a new folder.")
        lock = hold(folder / LOCK)
    except OSError as error:
        raise ResultError(f"{folder}: cannot be used ({error.strerror}).") from error
    if lock is None:
        raise ResultError(f"{folder}: another sweep is running there. Wait until it ends.")
    try:
        yield folder
    finally:
        os.close(lock)


class SweepLog:
    """State of a sweep, stored on disk at every change."""

    def __init__(
        self, state: Sweep, plan: SweepPlan, work: dict[str, int], progress: OnProgress | None
    ) -> None:
        self.state = state
        self._plan = {run.name: run for run in plan.runs}
        self._lock = RLock()
        amounts = [work[run.name] for run in state.runs]
        self._reporter = QueueReporter(amounts, progress, self._shares(), judged_from=0.0)
        write_index(state)
        self._reporter.report(self._shares())

    def missing(self) -> list[PlannedRun]:
        """Runs that are not finished."""
        with self._lock:
            return [self._plan[run.name] for run in self.state.runs if run.status != "finished"]

    def end(self, name: str, task_end: TaskEnd) -> None:
        """A run has ended; its result file says whether it is finished."""
        planned = self._plan[name]
        found = finished(planned, self.state.folder / planned.file)
        if found is not None:
            task_end = replace(task_end, status="finished", reason="")
        elif task_end.status == "finished":
            reason = (
                f"its result is not in {self.state.folder}. Check that all workers see that folder."
            )
            task_end = replace(task_end, status="failed", reason=reason)
        changes = {"status": task_end.status, "reason": task_end.reason, **_readings(found)}
        with self._lock:
            self._change(
                name, lambda run: replace(run, wall_seconds=task_end.wall_seconds, **changes)
            )
            self._reporter.report(self._shares())

    def clear_up(self) -> None:
        """Remove files of lost workers, except of runs that can be resumed."""
        folder = self.state.folder
        kept = tuple(beside(folder / run.file).name for run in self.missing())
        for left in folder.iterdir():
            name = f".{left.name.lstrip('.')}"  # names of members have a second point
            if name.startswith(BESIDE) and (left.suffix != ".h5" or not name.startswith(kept)):
                left.unlink(missing_ok=True)

    def lost(self, planned: PlannedRun, _: Path) -> None:
        """The process of a run was lost; arguments as of `compute`; called from other threads."""
        self._change(planned.name, lambda run: replace(run, losses=run.losses + 1))

    def _change(self, name: str, changed: Callable[[SweepRun], SweepRun]) -> None:
        with self._lock:
            runs = [changed(run) if run.name == name else run for run in self.state.runs]
            self.state = replace(self.state, runs=tuple(runs))
            write_index(self.state)

    def _shares(self) -> NDArray[np.float64]:
        return np.array([float(run.status != "waiting") for run in self.state.runs])


def open_log(
    folder: Path, plan: SweepPlan, work: dict[str, int], progress: OnProgress | None
) -> SweepLog:
    """A log, with runs already finished by their result files.

    Raises CaseError if the folder contains another plan.
    """
    known = {}
    if (folder / INDEX).exists():
        before = read_sweep(folder)
        check_same(before, plan)
        known = {run.name: run for run in before.runs}
    runs = tuple(_state_of(folder, run, known.get(run.name)) for run in plan.runs)
    path = as_text(str(plan.case.path.absolute())) if plan.case.path else ""
    keys = tuple(key.name for key in plan.keys)
    title = bowl_title(plan.case, plan.runs[0].values)
    state = Sweep(folder, title, plan.case.text, path, keys, runs)
    log = SweepLog(state, plan, work, progress)
    log.clear_up()
    return log


def _state_of(folder: Path, planned: PlannedRun, before: SweepRun | None) -> SweepRun:
    """State of a run from its result file."""
    numbers = tuple(value.number for value in planned.values)
    written = tuple(str(value.written) for value in planned.values)
    fresh = SweepRun(planned.name, planned.file, numbers, written)
    found = finished(planned, folder / planned.file)
    if found is None:
        return fresh
    return replace(
        fresh,
        status="finished",
        **_readings(found),
        wall_seconds=before.wall_seconds if before else None,
        losses=before.losses if before else 0,
    )


def _readings(found: Result | None) -> dict[str, Any]:
    """Entries of a run in the index from its result file."""
    if found is None:
        return {"sinking_time": None, "interval": None, "members": 1, "outcome": ""}
    return {
        name: getattr(found, name) for name in ("sinking_time", "interval", "members", "outcome")
    }


def check_same(before: Sweep, plan: SweepPlan) -> None:
    """CaseError if a folder contains another plan, with the difference."""
    differences = [
        f"{key} was {_shown(old)} and is {_shown(new)}"
        for key, old, new in _changed(before.case_text, plan.case.text)
        if key not in before.keys
    ]
    keys = tuple(key.name for key in plan.keys)
    if keys != before.keys:
        differences.append(f"it varied {', '.join(before.keys)} and now varies {', '.join(keys)}")
    else:
        old = [", ".join(run.written) for run in before.runs]
        new = [", ".join(str(value.written) for value in run.values) for run in plan.runs]
        gone = [row for row in old if row not in new]
        come = [row for row in new if row not in old]
        differences += [f"values gone: {'; '.join(gone)}"] if gone else []
        differences += [f"values new: {'; '.join(come)}"] if come else []
        if not gone and not come and old != new:
            differences.append("the runs are in another order")
    if differences:
        raise CaseError(
            f"Contains a sweep with another plan: {'. '.join(differences)}",
            file=before.folder,
            allowed="Give another folder.",
        )


def _changed(before: str, now: str) -> Iterator[tuple[str, object, object]]:
    """Keys that differ between two case texts, with both values; comments do not count."""
    flat = []
    for text in (before, now):
        tables = tomllib.loads(text)
        flat.append({k: v for k, v in tables.items() if not isinstance(v, dict)})
        for name, table in tables.items():
            if isinstance(table, dict):
                flat[-1].update({f"{name}.{key}": value for key, value in table.items()})
    for key in sorted({*flat[0], *flat[1]}):
        if flat[0].get(key) != flat[1].get(key):
            yield key, flat[0].get(key), flat[1].get(key)


def _shown(value: object) -> str:
    return "not given" if value is None else f'"{value}"'


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
