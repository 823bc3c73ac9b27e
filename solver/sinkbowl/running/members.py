"""Several releases of one bowl, on one grid or several: an ensemble, and the one result of it.

Members differ as two releases by hand do: a draft that is off by a tenth of a millimetre, a breath
of a wave on the water (flow/release.py). Once the fountain breaks up that parts them, and their
scatter is that of the sinking time itself. An ensemble holds all smaller ones of its seed.

Several grids tell of the error of the finest one. The finest grid is the case's own, each of the
others coarser by sqrt(2), so that three grids cost about half more than one; with a resolved hole
the cells around the bowl only up to where its wall would be thickened. The hole is treated on all
of them as on the finest. Of the coarser runs only the curves are kept, in the group `levels` of the
finest run's result file.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from time import monotonic
from typing import Literal

import numpy as np

from sinkbowl.case.case import WIDEST_CELL, Case
from sinkbowl.common.errors import ResultError
from sinkbowl.common.shown import Shown, TextTable, seconds
from sinkbowl.files.result import read_result
from sinkbowl.files.work_file import check_target, open_work_file
from sinkbowl.flow.layout import cell_refused, lay_out
from sinkbowl.flow.thickening import wall_cell
from sinkbowl.running.convergence import Convergence
from sinkbowl.running.ensemble_runs import (
    clear_beside,
    ensemble_runs,
    left_beside,
    run_ensemble,
)
from sinkbowl.running.job_queue import Tell
from sinkbowl.running.merging import Merged, merge
from sinkbowl.running.process_pool import cores
from sinkbowl.running.runner import RunResult
from sinkbowl.scatter.disturbance import UNDISTURBED, Disturbance, drawn
from sinkbowl.scatter.interval import told_time

RATIO = math.sqrt(2.0)
"""Coarser over finer cell from one grid to the next."""

FEWEST, MOST = 3, 5
"""Numbers of grids that can be asked for."""

FEWEST_MEMBERS, MOST_MEMBERS = 2, 100
"""Numbers of members that can be asked for."""


@dataclass(frozen=True, repr=False)
class Members(Shown):
    """Several releases of one bowl.

    Attributes
    ----------
    median : how the median member ended; its sinking time and interval are those of all
    times : sinking times [s], None where a rim did not pass under
    seed : of the releases
    median_member : whose frames the result holds
    levels : the grids, None where there is one
    """

    median: RunResult
    times: tuple[float | None, ...]
    seed: int
    median_member: int
    levels: Grids | None = None

    @property
    def table(self) -> TextTable:
        """The members and what they say together."""
        interval = self.median.interval
        rows = [
            ("outcome", self.median.outcome),
            ("sinking time", told_time(self.median.sinking_time, interval)),
            *([("interval", interval.words)] if interval else []),
            *(
                (f"member {m}", "none" if time is None else seconds(time))
                for m, time in enumerate(self.times)
            ),
        ]
        title = f"{self.median.path}: {len(self.times)} releases, seed {self.seed}"
        return TextTable(rows, title)


def run_members(
    case: Case,
    output: str | Path,
    members: int,
    *,
    seed: int = 0,
    levels: int = 1,
    overwrite: bool = False,
    resume: bool = False,
    workers: int | None = None,
    progress: Tell | None = None,
) -> Members:
    """Release a bowl several times and write all of it to one result file.

    A script that calls this with more than one worker needs ``if __name__ == "__main__":`` around
    its work, as always where processes are spawned.

    Parameters
    ----------
    case : what to sink
    output : HDF5 file to write; it appears when all members are done
    members : how many releases, 2 to 100
    seed : of the releases, 0 or more
    levels : on how many grids each of them, 1 or 3 to 5
    overwrite : replace an existing file, and what an interrupted call left
    resume : go on with what an interrupted call left, to the very numbers of one without a break
    workers : processes; by default one a core
    progress : called now and then with the state of all runs

    Raises
    ------
    CaseError : the case asks for what the solver cannot do, on one of the grids; nothing is written
    ResultError : the file cannot be written, or there are runs of another case to go on with
    RunError : a run failed, or all were stopped; what is done is kept to be gone on with
    ValueError : members, levels or seed are out of range
    """
    if not FEWEST_MEMBERS <= members <= MOST_MEMBERS:
        allowed = f"{FEWEST_MEMBERS} to {MOST_MEMBERS}"
        raise ValueError(f"members must be {allowed}, not {members}")
    if levels != 1 and not FEWEST <= levels <= MOST:
        raise ValueError(f"levels must be 1 or {FEWEST} to {MOST}, not {levels}")
    disturbances = [drawn(seed, member) for member in range(members)]
    merged, median, grids = _compute(
        case,
        Path(output),
        disturbances,
        levels,
        seed,
        overwrite,
        resume,
        workers or cores(),
        progress,
    )
    return Members(median, merged.times, seed, merged.median, grids)


def run_grids(
    case: Case,
    output: str | Path,
    levels: int = FEWEST,
    *,
    overwrite: bool = False,
    resume: bool = False,
    workers: int = 1,
    progress: Tell | None = None,
) -> Grids:
    """Compute a sinking on several grids and write them to one result file.

    Parameters
    ----------
    case : what to sink; its own cell is the finest
    output : HDF5 file to write, that of the finest run; it appears when all grids are done
    levels : number of grids, 3 to 5; the three finest give the uncertainty
    overwrite, resume, progress : as for `run_members`
    workers : processes; with one the grids are computed in this process

    Raises
    ------
    CaseError, ResultError, RunError : as for `run_members`
    ValueError : levels is out of range
    """
    if not FEWEST <= levels <= MOST:
        raise ValueError(f"levels must be {FEWEST} to {MOST}, not {levels}")
    how = (overwrite, resume, workers, progress)
    _, _, grids = _compute(case, Path(output), [UNDISTURBED], levels, None, *how)
    assert grids is not None
    return grids


def _compute(
    case: Case,
    output: Path,
    disturbances: Sequence[Disturbance],
    levels: int,
    seed: int | None,
    overwrite: bool,
    resume: bool,
    workers: int,
    progress: Tell | None,
) -> tuple[Merged, RunResult, Grids | None]:
    """All runs of an ensemble, and its result."""
    begun = monotonic()
    cases = coarser_cases(case, levels) if levels > 1 else [case]
    cells = [lay_out(one).measure for one in cases]
    _check_place(output, overwrite, resume)
    work = open_work_file(output)
    try:
        if overwrite:
            clear_beside(output)
        runs = ensemble_runs(cases, disturbances, output)
        run_ensemble(runs, output, workers, progress)
        merged = merge(case, runs, cells, seed, work)
    finally:
        work.discard()
    clear_beside(output)
    ended = _ended(merged, monotonic() - begun)
    if levels == 1:
        return merged, ended, None
    grids = Grids(ended, tuple(cells), merged.means, merged.verdict, merged.warning)
    return merged, ended, grids


def _check_place(output: Path, overwrite: bool, resume: bool) -> None:
    """ResultError where the output must not be written, or something is left to go on with."""
    if resume and output.is_file():
        result = read_result(output)
        whole = result.status == "finished"
        told = (
            f"is finished ({result.outcome})" if whole else "is a single run that was interrupted"
        )
        raise ResultError(
            f"{output}: {told}; there are no members or grids to resume. Give --overwrite to "
            "compute it again."
        )
    check_target(output, overwrite)
    if not (resume or overwrite):
        refuse_leftovers(output)


def refuse_leftovers(output: Path) -> None:
    """ResultError where an interrupted ensemble has left its runs beside an output."""
    left = [path for path in left_beside(output) if path.suffix == ".h5"]
    if left:
        raise ResultError(
            f"{output}: {len(left)} runs of an interrupted ensemble are beside it ({left[0].name} "
            "...). Give the same --members, --seed and --grids with --resume to continue, or "
            "--overwrite to start again."
        )


def _ended(merged: Merged, wall_seconds: float) -> RunResult:
    """How the median member ended, with the sinking time and interval of all."""
    result = merged.result
    errors = result.history["volume_error"]
    return RunResult(
        path=result.path,
        status=result.status,
        sinking_time=result.sinking_time,
        outcome=result.outcome,
        steps=len(errors),
        wall_seconds=wall_seconds,
        volume_error=float(errors[np.argmax(np.abs(errors))]),
        notes=tuple(str(result.attrs["notes"]).splitlines()),
        interval=merged.interval,
    )


@dataclass(frozen=True, repr=False)
class Grids(Shown):
    """A case on several grids, finest first.

    Attributes
    ----------
    finest : how the run on the finest grid ended; its file holds all the rest as well
    cells, sinking_times : of each grid [m], [s], a mean where it has members; None where a rim did
        not pass under
    verdict : on the sinking time; None where it is missing on one of the three finest grids
    warning : what is wrong with the sequence, in words; empty where nothing is
    """

    finest: RunResult
    cells: tuple[float, ...]
    sinking_times: tuple[float | None, ...]
    verdict: Convergence | None
    warning: str

    @property
    def uncertainty(self) -> float | None:
        """Numerical uncertainty of the sinking time on the finest grid [s], at about 95 %."""
        return self.verdict.uncertainty if self.verdict else None

    @property
    def table(self) -> TextTable:
        """The grids and what they say together."""
        rows = [
            ("outcome", self.finest.outcome),
            ("sinking time", told_time(self.finest.sinking_time, self.finest.interval)),
            *(
                (f"on cells of {1e3 * cell:.3g} mm", "none" if t is None else seconds(t))
                for cell, t in zip(self.cells, self.sinking_times, strict=True)
            ),
            *([("warning", self.warning)] if self.warning else []),
        ]
        title = f"{self.finest.path}: {self.finest.status}, {len(self.cells)} grids"
        return TextTable(rows, title)


def coarser_cases(case: Case, levels: int) -> list[Case]:
    """The case and coarser ones with the same treatment of the hole, finest first.

    Raises
    ------
    CaseError : the coarsest grid would not show the bowl
    """
    layout = lay_out(case)
    most = WIDEST_CELL * case.bowl.rim_radius / RATIO ** (levels - 1)
    if layout.cell > most:
        raise cell_refused(
            case,
            layout.cell,
            f"is too coarse for {levels} grids, of which it is the finest",
            f"Give at most {1e3 * most:.3g} mm.",
        )
    hole: Literal["closed", "resolved"] = "closed" if layout.closed else "resolved"
    coarser = []
    for k in range(1, levels):
        cell, base = layout.cell * RATIO**k, layout.finest * RATIO**k
        if not layout.closed:
            cell = min(cell, max(layout.cell, wall_cell(case.bowl)))
        flow = replace(case.flow, cell=cell, base_cell=None if layout.closed else base, hole=hole)
        coarser.append(replace(case, flow=flow))
    return [case, *coarser]
