"""The text of ``sinkbowl fit``: coefficients, ranges, verdict."""

from typing import Any

import numpy as np

from sinkbowl.common.constants import LEVEL
from sinkbowl.common.shown import columns
from sinkbowl_post.fitting.trace import TraceFit
from sinkbowl_post.fitting.trial_fit import TrialFit
from sinkbowl_post.fitting.verdict import hole_range, plus_minus, trace_verdict, trial_verdict
from sinkbowl_post.measured.measured import counted_words
from sinkbowl_post.style import LINES

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


def fit_figures(fit: TrialFit | TraceFit) -> dict[str, Any]:
    """Figures and verdict for JSON."""
    words = trial_verdict(fit) if isinstance(fit, TrialFit) else trace_verdict(fit)
    return {**fit.as_dict(), "verdict": words}


def fit_page(fit: TrialFit | TraceFit) -> str:
    """A fit as a page of text."""
    return _trial_page(fit) if isinstance(fit, TrialFit) else _trace_page(fit)


def _trial_page(fit: TrialFit) -> str:
    holes, failed = fit.timed.holes, counted_words(fit.failed)
    lines = [
        fit.title,
        f"{len(fit.timed.time)} trials, {_holes(len(holes))}, {hole_range(holes[0], holes[-1])}"
        f"{f'; besides {failed}' if failed else ''}.",
        "",
    ]
    rows = [("model", C_D, "not excluded for", "trials", "chi²", "degrees of freedom")]
    for name, one in fit.models.items():
        coefficient = "-" if one.coefficient is None else plus_minus(one.coefficient)
        explained = "none" if one.holes is None else hole_range(*one.holes)
        figures = (str(one.trials), f"{one.chi_square:.3g}", str(one.freedom))
        rows.append((LINES[name].name, coefficient, explained, *figures))
    return "\n".join([*lines, *columns(rows, (0, 1, 2)), "", *trial_verdict(fit), "", *METHOD])


def _trace_page(fit: TraceFit) -> str:
    lines = [
        fit.title,
        f"{np.count_nonzero(fit.used)} instants with the rim above the water.",
        "",
    ]
    rows = [("model", C_D, "difference, rms [mm]", "release [s]", "independent instants")]
    for name, one in fit.models.items():
        coefficient = "-" if one.coefficient is None else plus_minus(one.coefficient)
        figures = (
            f"{one.rms_difference * 1e3:.2g}",
            f"{one.released:.3f}",
            f"{one.independent:.0f}",
        )
        rows.append((LINES[name].name, coefficient, *figures))
    return "\n".join([*lines, *columns(rows, (0, 1)), "", *trace_verdict(fit), "", *TRACE_METHOD])


def _holes(count: int) -> str:
    return "one hole" if count == 1 else f"{count} holes"
