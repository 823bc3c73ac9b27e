"""Fit of the discharge coefficient to trials or a trace."""

from collections.abc import Sequence
from pathlib import Path

from sinkbowl.case.case import Case, load_case
from sinkbowl_post.fitting.timed_trials import Progress
from sinkbowl_post.fitting.trace import TraceFit, fit_trace
from sinkbowl_post.fitting.trial_fit import TrialFit, fit_trials
from sinkbowl_post.measured.measured import Trace, Trials, read_measured
from sinkbowl_post.output import checked_outputs
from sinkbowl_post.style import FIGURE_SUFFIXES, save_figure


def fit(
    case: Case | str | Path,
    measured: str | Path | Trials | Trace,
    outputs: str | Path | Sequence[str | Path] = (),
    progress: Progress | None = None,
    heading: str | None = None,
) -> TrialFit | TraceFit:
    """Fit every reduced model to measurements: discharge coefficients with intervals.

    Parameters
    ----------
    case : the bowl, or its file
    measured : a table of trials or a trace, .csv, or already read
    outputs : files to write the slide to, .png or .svg; one or several
    progress : called with (models fitted, models in all)
    heading : of the slide; None: default

    Raises
    ------
    CaseError : the table cannot be read, does not fit the case, or no trial sank
    ResultError : an unknown suffix, or a folder that does not exist
    RunError : a model does not end
    """
    files = checked_outputs(outputs, FIGURE_SUFFIXES)
    case = load_case(case)
    table = read_measured(Path(measured)) if isinstance(measured, str | Path) else measured
    found: TrialFit | TraceFit
    if isinstance(table, Trace):
        found = fit_trace(case, table, progress)
    else:
        found = fit_trials(case, table, progress)
    if files:
        from sinkbowl_post.fitting.figure import fit_figure  # and with it matplotlib

        figure = fit_figure(found)
        for file in files:
            save_figure(figure, file, heading)
    return found
