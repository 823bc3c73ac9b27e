"""Fit of the discharge coefficient to trials or a trace, and its text."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sinkbowl.case.case import Case, load_case
from sinkbowl.common import LEVEL
from sinkbowl.common.shown import columns
from sinkbowl_post.fitting.timed_trials import Progress
from sinkbowl_post.fitting.trace import TraceFit, fit_trace
from sinkbowl_post.fitting.trial_fit import TrialFit, fit_trials
from sinkbowl_post.fitting.verdict import hole_range, plus_minus, trace_verdict, trial_verdict
from sinkbowl_post.measured.measured import Measured, Trace, as_measured, counted_words
from sinkbowl_post.output import checked_outputs
from sinkbowl_post.style import FIGURE_SUFFIXES, LINES, save_figure

C_D = f"C_d, {100 * LEVEL:.0f} %"

METHOD = (
    "Least squares with the trials' own scatter (where they are few, the timing's uncertainty",
    "counts too) and the uncertainties of hole, mass and radius, which are shared by the trials",
    "that have them in common; intervals by linearisation, Student's t. A model is not excluded",
    "over a range of holes if one coefficient fits its times (chi-square, 5 %).",
)
TRACE_METHOD = (
    "Least squares for coefficient and moment of release; intervals from the scatter of the trace,",
    "its instants counted as often as they are independent, and from hole, mass and radius.",
)


def fit(
    case: Case | str | Path,
    measured: Measured,
    outputs: str | Path | Sequence[str | Path] = (),
    progress: Progress | None = None,
    heading: str | None = None,
) -> TrialFit | TraceFit:
    """Fit every reduced model to measurements: discharge coefficients with intervals.

    Parameters
    ----------
    case : the bowl, or its file
    measured : a table of trials or a trace, .csv, or already read; or times [s, or text]
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
    table = as_measured(measured)
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


def fit_figures(found: TrialFit | TraceFit) -> dict[str, Any]:
    """Figures and verdict for JSON."""
    words = trial_verdict(found) if isinstance(found, TrialFit) else trace_verdict(found)
    return {**found.as_dict(), "verdict": words}


def fit_page(found: TrialFit | TraceFit) -> str:
    """A fit as a page of text."""
    return _trial_page(found) if isinstance(found, TrialFit) else _trace_page(found)


def _trial_page(found: TrialFit) -> str:
    holes, failed = found.timed.holes, counted_words(found.failed)
    lines = [
        found.title,
        f"{len(found.timed.time)} trials, {_holes(len(holes))}, {hole_range(holes[0], holes[-1])}"
        f"{f'; besides {failed}' if failed else ''}.",
        "",
    ]
    rows = [("model", C_D, "not excluded for", "trials", "chi²", "degrees of freedom")]
    for name, one in found.models.items():
        coefficient = "-" if one.coefficient is None else plus_minus(one.coefficient)
        explained = "none" if one.holes is None else hole_range(*one.holes)
        figures = (str(one.trials), f"{one.chi_square:.3g}", str(one.freedom))
        rows.append((LINES[name].name, coefficient, explained, *figures))
    return "\n".join([*lines, *columns(rows, (0, 1, 2)), "", *trial_verdict(found), "", *METHOD])


def _trace_page(found: TraceFit) -> str:
    lines = [
        found.title,
        f"{np.count_nonzero(found.used)} instants with the rim above the water.",
        "",
    ]
    rows = [("model", C_D, "difference, rms [mm]", "release [s]", "independent instants")]
    for name, one in found.models.items():
        coefficient = "-" if one.coefficient is None else plus_minus(one.coefficient)
        figures = (
            f"{one.rms_difference * 1e3:.2g}",
            f"{one.released:.3f}",
            f"{one.independent:.0f}",
        )
        rows.append((LINES[name].name, coefficient, *figures))
    return "\n".join([*lines, *columns(rows, (0, 1)), "", *trace_verdict(found), "", *TRACE_METHOD])


def _holes(count: int) -> str:
    return "one hole" if count == 1 else f"{count} holes"
