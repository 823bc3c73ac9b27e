"""Ensembles: several releases of a bowl, on one or several grids, with one result.

Members differ like releases by hand: by a tenth of a millimetre of draft and a small wave
(flow/release.py). After the fountain breaks up they diverge, and their scatter is that of the
sinking time. An ensemble contains all smaller ones of its seed.

Several grids give the error of the finest one. The finest grid is the case's own, each of the
others coarser by sqrt(2), so that three grids cost about half more than one; with a resolved hole
the cells around the bowl only up to where its wall would be thickened. All have the hole treatment
of the finest. Of the coarser runs only the curves are kept, in the group `grids` of the finest
run's result file. Only the median member on the finest grid goes on after its rim is under.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from time import monotonic
from typing import Literal

from sinkbowl.case.case import WIDEST_CELL, Case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import read_result
from sinkbowl.files.work_file import check_target, open_work_file
from sinkbowl.flow.layout import cell_refused, lay_out, wall_cell
from sinkbowl.running.ensemble_runs import (
    clear_beside,
    clear_beside_dead,
    ensemble_runs,
    left_beside,
    run_ensemble,
)
from sinkbowl.running.job_queue import OnProgress
from sinkbowl.running.merging import Grids, Members, merge
from sinkbowl.running.process_pool import cores
from sinkbowl.scatter import UNDISTURBED, Disturbance, drawn

RATIO = math.sqrt(2.0)  # coarser over finer cell from one grid to the next
FEWEST, MOST = 3, 5  # minimum and maximum number of grids
FEWEST_MEMBERS, MOST_MEMBERS = 2, 100  # minimum and maximum number of members


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
    progress: OnProgress | None = None,
) -> Members:
    """Compute several releases of a bowl into one result file.

    A script that calls this with several workers needs ``if __name__ == "__main__":`` around its
    work.

    Parameters
    ----------
    case : what to sink
    output : HDF5 file to write; it appears when all members are done
    members : number of releases, 2 to 100
    seed : of the releases, 0 or more
    levels : on how many grids each of them, 1 or 3 to 5
    overwrite : replace an existing file and the files of an interrupted call
    resume : continue an interrupted call, with the same numbers as without the interruption
    workers : number of processes; default: one per core
    progress : called regularly with the state of all runs

    Raises
    ------
    CaseError : the solver cannot compute the case on one of the grids; nothing is written
    ResultError : the file cannot be written, or the runs to resume are of another case
    RunError : a run failed, or all were stopped; finished work is kept for `resume`
    ValueError : members, levels or seed are out of range
    """
    if not FEWEST_MEMBERS <= members <= MOST_MEMBERS:
        allowed = f"{FEWEST_MEMBERS} to {MOST_MEMBERS}"
        raise ValueError(f"members must be {allowed}, not {members}")
    if levels != 1 and not FEWEST <= levels <= MOST:
        raise ValueError(f"levels must be 1 or {FEWEST} to {MOST}, not {levels}")
    releases = [drawn(seed, member) for member in range(members)]
    how = (overwrite, resume, workers or cores(), progress)
    return _ensemble(case, Path(output), releases, levels, seed, *how)


def run_grids(
    case: Case,
    output: str | Path,
    levels: int = FEWEST,
    *,
    overwrite: bool = False,
    resume: bool = False,
    workers: int = 1,
    progress: OnProgress | None = None,
) -> Grids:
    """Compute a sinking on several grids into one result file.

    Parameters
    ----------
    case : what to sink; its own cell is the finest
    output : HDF5 file to write, that of the finest run; it appears when all grids are done
    levels : number of grids, 3 to 5; the three finest give the uncertainty
    overwrite, resume, progress : as for `run_members`
    workers : number of processes; 1: the grids are computed in this process

    Raises
    ------
    CaseError, ResultError, RunError : as for `run_members`
    ValueError : levels is out of range
    """
    if not FEWEST <= levels <= MOST:
        raise ValueError(f"levels must be {FEWEST} to {MOST}, not {levels}")
    how = (overwrite, resume, workers, progress)
    grids = _ensemble(case, Path(output), [UNDISTURBED], levels, None, *how).levels
    assert grids is not None  # more than one was asked for
    return grids


def _ensemble(
    case: Case,
    output: Path,
    disturbances: Sequence[Disturbance],
    levels: int,
    seed: int | None,
    overwrite: bool,
    resume: bool,
    workers: int,
    progress: OnProgress | None,
) -> Members:
    """All runs of an ensemble, and its result; one release is the case's own, without a seed."""
    begun = monotonic()
    cases = coarser_cases(case, levels) if levels > 1 else [case]
    cells = [lay_out(one).measure for one in cases]
    _check_place(output, overwrite, resume)
    work = open_work_file(output)
    try:
        if overwrite:
            clear_beside(output)
        runs = ensemble_runs(cases, disturbances, output)
        median = run_ensemble(runs, output, workers, progress)
        merged = merge(case, runs, cells, seed, median, work, begun)
    finally:
        work.discard()
    clear_beside(output)
    return merged


def _check_place(output: Path, overwrite: bool, resume: bool) -> None:
    """ResultError if the output must not be written, or interrupted runs are left."""
    if not overwrite:
        settle_leftovers(output, resume)
    if resume and output.is_file():
        result = read_result(output)
        whole = result.status == "finished"
        text = (
            f"is finished ({result.outcome})" if whole else "is a single run that was interrupted"
        )
        raise ResultError(
            f"{output}: {text}; there are no members or grids to resume. Give --overwrite to "
            "compute it again."
        )
    check_target(output, overwrite)


def settle_leftovers(output: Path, resume: bool = False) -> None:
    """Remove the runs beside the finished result of an ensemble, whose command was killed then.

    Raises ResultError if there are runs of an interrupted ensemble, and they are not resumed.
    """
    left = [path for path in left_beside(output) if path.suffix == ".h5"]
    result = read_result(output) if left and output.is_file() else None
    if result and result.status == "finished" and result.members * result.grids > 1:
        clear_beside_dead(output)
    elif left and not resume:
        raise ResultError(
            f"{output}: {len(left)} runs of an interrupted ensemble are beside it ({left[0].name} "
            "...). Give the same --members, --seed and --grids with --resume to continue, or "
            "--overwrite to start again."
        )


def coarser_cases(case: Case, levels: int) -> list[Case]:
    """The case and coarser ones with the same treatment of the hole, finest first.

    Raises CaseError if the coarsest grid is too coarse for the bowl.
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
