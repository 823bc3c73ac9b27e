"""Merging of several runs into one result: frames of the median member, histories of all.

It is the file of the median member on the finest grid with the groups `members` and `grids` added,
and appears whole when all runs are done.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from time import monotonic

import h5py
import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import RunError
from sinkbowl.common.shown import Shown, TextTable, seconds
from sinkbowl.corrected.correction import flow_interval
from sinkbowl.files.record import DATASETS, MEMBER_DATASETS, MEMBER_HISTORY, describe
from sinkbowl.files.result import Result, read_result
from sinkbowl.files.work_file import WorkFile
from sinkbowl.running.convergence import Convergence, judge, store_grids
from sinkbowl.running.ensemble_runs import EnsembleRun
from sinkbowl.running.runner import RunResult
from sinkbowl.scatter import Disturbance
from sinkbowl.scatter.interval import as_attributes, mean_uncertainty, time_text


@dataclass(frozen=True, repr=False)
class Grids(Shown):
    """A case on several grids, finest first.

    Attributes
    ----------
    finest : end of the run on the finest grid; its file contains all grids
    cells, sinking_times : of each grid [m], [s], the mean of its members; None if a rim did not
        pass under
    verdict : on the sinking time; None if it is missing on one of the three finest grids
    warning : about the sequence, in words, or empty
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
        """The grids and their comparison."""
        rows = [
            ("outcome", self.finest.outcome),
            ("sinking time", time_text(self.finest.sinking_time, self.finest.interval)),
            *(
                (f"on cells of {1e3 * cell:.3g} mm", "none" if t is None else seconds(t))
                for cell, t in zip(self.cells, self.sinking_times, strict=True)
            ),
            *([("warning", self.warning)] if self.warning else []),
        ]
        title = f"{self.finest.path}: {self.finest.status}, {len(self.cells)} grids"
        return TextTable(rows, title)


@dataclass(frozen=True, repr=False)
class Members(Shown):
    """Several releases of one bowl.

    Attributes
    ----------
    median : end of the median member; sinking time and interval are those of all
    times : sinking times [s], None if a rim did not pass under
    seed : of the releases
    median_member : the member whose frames are in the result
    levels : the grids, None where there is one
    """

    median: RunResult
    times: tuple[float | None, ...]
    seed: int
    median_member: int
    levels: Grids | None = None

    @property
    def table(self) -> TextTable:
        """The members and their mean."""
        interval = self.median.interval
        rows = [
            ("outcome", self.median.outcome),
            ("sinking time", time_text(self.median.sinking_time, interval)),
            *([("interval", interval.words)] if interval else []),
            *(
                (f"member {m}", "none" if time is None else seconds(time))
                for m, time in enumerate(self.times)
            ),
        ]
        title = f"{self.median.path}: {len(self.times)} releases, seed {self.seed}"
        return TextTable(rows, title)


def median_time(times: Sequence[float | None]) -> float | None:
    """Median of the times [s], None if it is that of a dry rim."""
    return _or_none(float(np.median([math.inf if time is None else time for time in times])))


def merge(
    case: Case,
    runs: Sequence[EnsembleRun],
    cells: Sequence[float],
    seed: int | None,
    median: int,
    work: WorkFile,
    begun: float,
) -> Members:
    """Write the result of finished runs; the end of the median one with the time of all.

    case : on the finest grid
    runs : of every grid and member
    cells : of each grid, finest first [m]
    seed : of the members; None for the case's own release
    median : index of the median member on the finest grid, whose run is whole
    work : working file of the result
    begun : when the call began [s], by `monotonic`

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
    errors = written.history["volume_error"]
    ended = RunResult(
        path=written.path,
        status=written.status,
        sinking_time=written.sinking_time,
        outcome=written.outcome,
        steps=len(errors),
        wall_seconds=monotonic() - begun,
        volume_error=float(errors[np.argmax(np.abs(errors))]),
        notes=tuple(str(written.attrs["notes"]).splitlines()),
        interval=interval,
    )
    several = Grids(ended, tuple(cells), means, verdict, warning) if len(cells) > 1 else None
    return Members(ended, times, seed or 0, median, several)


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
