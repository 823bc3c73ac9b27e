"""The report of a run or of a sweep, whichever is given."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sinkbowl.common.errors import CaseError
from sinkbowl.files.result import Result, read_result
from sinkbowl.sweeps.index import Sweep, read_sweep
from sinkbowl_post.reporting.run_report import run_report
from sinkbowl_post.reporting.sweep_report import sweep_report


def report(
    told: Result | Sweep | str | Path,
    output: str | Path,
    progress: Callable[[int, int], None] | None = None,
    measured: str | Path | None = None,
) -> None:
    """Write one page for the browser with everything in it: film, curves, figures, health.

    Parameters
    ----------
    told : a run in progress or ended, which without frames has no film; or a sweep, whose runs that
        are not finished, or did not sink, are named; or the file or folder of either
    output : file to write, .html
    progress : called with (frames drawn, frames in all) while the film is made
    measured : table of trials or trace of a run's bowl, .csv

    Raises
    ------
    CaseError : the measured table cannot be read, has no trial of the bowl, or goes with a sweep
    ResultError : no run of a sweep sank, another suffix, a folder that does not exist, or a case
        that cannot be read again
    """
    if not isinstance(told, Result | Sweep):
        told = read_sweep(told) if Path(told).is_dir() else read_result(told)
    if isinstance(told, Sweep) and measured is not None:
        raise CaseError(
            "goes with the report of one run",
            key="--measured",
            given=measured,
            allowed="For the trials of a sweep use: sinkbowl curves FOLDER --measured TRIALS.",
        )
    if isinstance(told, Sweep):
        sweep_report(told, output, progress)
    else:
        run_report(told, output, progress, measured)
