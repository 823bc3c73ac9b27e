"""Merging of several runs into one result: frames of the median member, histories of all.

It is the file of the median member on the finest grid with the groups `members` and `grids` added,
and appears whole when all runs are done.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import h5py
import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import RunError
from sinkbowl.corrected.correction import flow_interval
from sinkbowl.files.record import DATASETS, MEMBER_DATASETS, MEMBER_HISTORY, describe
from sinkbowl.files.result import Result, read_result
from sinkbowl.files.work_file import WorkFile
from sinkbowl.running.convergence import Convergence, judge, store_grids
from sinkbowl.running.ensemble_runs import EnsembleRun
from sinkbowl.scatter.disturbance import Disturbance
from sinkbowl.scatter.interval import TimeInterval, as_attributes, mean_uncertainty


@dataclass(frozen=True)
class Merged:
    """Result of several runs.

    median : index of the member whose frames are kept
    times : sinking times of the members on the finest grid [s], None for a dry rim
    means : mean of the members of each grid, finest first [s]
    verdict, warning : on the grids, None and empty with one grid
    interval : of the sinking time, None if not every rim passed under
    result : the file
    """

    median: int
    times: tuple[float | None, ...]
    means: tuple[float | None, ...]
    verdict: Convergence | None
    warning: str
    interval: TimeInterval | None
    result: Result


def median_time(times: Sequence[float | None]) -> float | None:
    """Median of the times [s], None if it is that of a dry rim."""
    return _or_none(float(np.median([_or_never(time) for time in times])))


def merge(
    case: Case,
    runs: Sequence[EnsembleRun],
    cells: Sequence[float],
    seed: int | None,
    median: int,
    work: WorkFile,
) -> Merged:
    """Write the result of finished runs.

    case : on the finest grid
    runs : of every grid and member
    cells : of each grid, finest first [m]
    seed : of the members; None for the case's own release
    median : index of the median member on the finest grid, whose run is whole
    work : working file of the result

    Raises RunError if it cannot be written; the runs are kept.
    """
    grids = [[read_result(run.path) for run in runs if run.grid == k] for k in range(len(cells))]
    times = tuple(result.sinking_time for result in grids[0])
    all_times = [[_or_nan(result.sinking_time) for result in grid] for grid in grids]
    means = tuple(_or_none(float(np.mean(of_grid))) for of_grid in all_times)
    unsure = tuple(mean_uncertainty(of_grid) for of_grid in all_times)
    verdict, warning = judge(cells, means, unsure) if len(cells) > 1 else (None, "")
    grid_error = verdict.uncertainty if verdict else None
    histories = [result.history for result in grids[0]]
    closed = str(grids[0][0].attrs["hole_treatment"]) == "closed"
    interval = flow_interval(case, times, histories, closed, grid_error)
    single = len(times) == 1
    try:
        work.take_over(runs[median].path)
    except OSError as error:
        raise _unwritten(work, error) from error
    with h5py.File(work, "r+") as file:
        file.attrs["sinking_time_s"] = _or_nan(median_time(times))
        file.attrs["members"] = len(times)
        file.attrs.update(as_attributes(interval))
        if not single and seed is not None:
            file.attrs["seed"] = seed
            file.attrs["median_member"] = median
            releases = [run.disturbance for run in runs if run.grid == 0]
            _store_members(file, grids[0], releases)
        if len(cells) > 1:
            curves = [[result.sinking() for result in grid] for grid in grids]
            store_grids(file, cells, curves, verdict, warning)
    work.publish_last()
    if work.error is not None:
        raise _unwritten(work, work.error)
    written = read_result(work.target)
    return Merged(median, times, means, verdict, warning, interval, written)


def _unwritten(work: WorkFile, error: OSError) -> RunError:
    return RunError(
        f"{work.target}: cannot be written ({error.strerror}). All its runs are finished and kept. "
        "Free disk space, then give the same command with --resume."
    )


def _store_members(
    file: h5py.File, results: Sequence[Result], releases: Sequence[Disturbance]
) -> None:
    """Add the group `members`, with a group per member for its history."""
    columns = {
        "sinking_time": [_or_nan(result.sinking_time) for result in results],
        "draft_offset": [release.draft for release in releases],
        "wave": [release.wave for release in releases],
    }
    for entry in MEMBER_DATASETS:
        data = np.array(columns[entry.column], dtype=float)
        describe(file.create_dataset(entry.name, data=data), entry)
    entries = {entry.column: entry for entry in DATASETS if entry.group == "history"}
    for m, result in enumerate(results):
        for name in MEMBER_HISTORY:
            data = result.history[name]
            dataset = file.create_dataset(
                f"members/{m}/{name}", data=data, compression="gzip", shuffle=True
            )
            describe(dataset, entries[name])


def _or_nan(time: float | None) -> float:
    return math.nan if time is None else time


def _or_none(time: float) -> float | None:
    return time if math.isfinite(time) else None


def _or_never(time: float | None) -> float:
    return math.inf if time is None else time
