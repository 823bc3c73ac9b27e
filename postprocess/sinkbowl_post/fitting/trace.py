"""The discharge coefficient from a trace of one sinking.

Draft against time, D(t - t_0; C), is fitted to the trace by least squares with two unknowns, the
discharge coefficient C and the time t_0 of release by the camera's clock; the falling model has
only t_0. Instants with the rim under are left out. Neighbouring instants are not independent
(waves, heave): n residuals with the lag-1 correlation r count as n (1 - r) / (1 + r) of them
(Bayley & Hammersley 1946, Suppl. J. R. Stat. Soc. 8, 184, from memory), and the interval uses
Student's t with as many. The uncertainties of hole, mass and radius are added: one film cannot
distinguish a wider hole from a larger coefficient.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, stdtrit

from sinkbowl.case.case import Case
from sinkbowl.common import LEVEL, QUANTILE
from sinkbowl.common.errors import CaseError
from sinkbowl.common.numerics import Monotone
from sinkbowl.common.shown import for_terminal
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl.reduced import falling
from sinkbowl.statics.hydrostatics import dry_draft, floats
from sinkbowl_post.fitting.estimate import DOUBTFUL, ConfidenceInterval, FitResult, fit_parameters
from sinkbowl_post.fitting.time_law import COEFFICIENTS, FINE, USUAL, TimeLaw, solve_at, time_law
from sinkbowl_post.fitting.timed_trials import Progress
from sinkbowl_post.measured.measured import FEWEST_INSTANTS, Trace

PHASES = np.linspace(0.0, 1.0, 301)  # shares of the sinking time at which drafts are stored
MOST_CORRELATED = 0.98  # upper limit of the lag-1 correlation
EARLY = 0.1  # maximum share of the way to the rim before the release, by the trace
READING = 1e-3  # default uncertainty of an instant [m]; only equal weights matter


@dataclass(frozen=True, eq=False)
class TraceModelFit:
    """One model against the trace.

    model : its name
    coefficient : None for a model without one, or if the best one is at a bound
    released : time of release by the trace's clock [s]
    miss : (n,) measured minus model draft of the instants used [m]
    independent : number of independent instants among them
    supported : whether the trace's uncertainties explain the differences, None without them
    """

    model: str
    coefficient: ConfidenceInterval | None
    released: float
    miss: FloatArray
    independent: float
    supported: bool | None

    @property
    def rms_difference(self) -> float:
        """Root mean square of the differences [m]."""
        return float(np.sqrt(np.mean(self.miss**2)))


@dataclass(frozen=True, eq=False, repr=False)
class TraceFit:
    """Result of the fit of a trace.

    Attributes
    ----------
    title, rim_height : of the case, [m]
    trace : as measured
    used : (m,) whether the rim is above the water at each instant
    models : of each reduced model
    """

    title: str
    rim_height: float
    trace: Trace
    used: NDArray[np.bool_]
    models: Mapping[str, TraceModelFit]

    def __repr__(self) -> str:
        """The page that ``sinkbowl fit`` prints."""
        from sinkbowl_post.fitting.fit import fit_page  # imports this module

        return for_terminal(fit_page(self))

    @property
    def best(self) -> TraceModelFit:
        """The model with the smallest difference."""
        return min(self.models.values(), key=lambda fit: fit.rms_difference)

    def as_dict(self) -> dict[str, Any]:
        """The fit as plain numbers, strings and None, units in the keys."""
        return {
            "title": self.title,
            "kind": "trace",
            "instants": int(np.count_nonzero(self.used)),
            "level": LEVEL,
            "best": self.best.model,
            "models": {
                name: {
                    "discharge_coefficient": None
                    if fit.coefficient is None
                    else fit.coefficient.as_dict(),
                    "released_s": fit.released,
                    "root_mean_square_miss_m": fit.rms_difference,
                    "independent_instants": fit.independent,
                    "supported": fit.supported,
                }
                for name, fit in self.models.items()
            },
        }


def fit_trace(case: Case, trace: Trace, progress: Progress | None = None) -> TraceFit:
    """Fit every reduced model to a trace.

    Raises CaseError if the bowl does not sink by the case, or too few instants have its rim above
    the water; RunError if a model does not end.
    """
    if floats(case) or dry_draft(case) is None:
        does = "goes under at once" if dry_draft(case) is None else "floats"
        raise CaseError(
            f"Cannot be fitted: by {case.path or case.title} the bowl {does}", file=trace.path
        )
    used = trace.draft < case.bowl.rim_height
    if np.count_nonzero(used) < FEWEST_INSTANTS:
        raise CaseError(
            f"Has {np.count_nonzero(used)} instants with the rim above the water",
            file=trace.path,
            allowed=f"{FEWEST_INSTANTS} are needed, below {case.bowl.rim_height * 1e3:g} mm.",
        )
    models = {}
    for done, name in enumerate(MODELS):
        if progress:
            progress(done, len(MODELS))
        models[name] = _model_fit(case, name, trace, used)
    return TraceFit(case.title, case.bowl.rim_height, trace, used, models)


class DraftLaw:
    """Draft of one bowl by one model, against time and discharge coefficient.

    case, model : to be solved
    law : its sinking times
    """

    def __init__(self, case: Case, model: str, law: TimeLaw) -> None:
        nodes = np.array([USUAL]) if model == falling.MODEL else np.array(COEFFICIENTS)
        drafts = []
        for coefficient in nodes:
            sinking = solve_at(case, model, float(coefficient))
            end = sinking.events["rim_under"]
            drafts.append(np.interp(PHASES * end, sinking.t, sinking.draft))
        self._fixed = drafts[0]
        self._curves = Monotone(np.log(nodes), np.array(drafts)) if len(nodes) > 1 else None
        self._law = law

    def time(self, coefficient: float) -> float:
        """Sinking time [s]."""
        log_product = np.interp(np.log(coefficient), np.log(FINE), self._law.log_product)
        return float(np.exp(log_product)) / coefficient

    def draft(self, t: FloatArray, coefficient: float) -> FloatArray:
        """Draft [m] at times since release [s]; constant before it and after the end."""
        drafts = self._fixed
        if self._curves is not None:
            drafts = self._curves(np.log(coefficient))
        return np.asarray(np.interp(t / self.time(coefficient), PHASES, drafts))


def _model_fit(case: Case, model: str, trace: Trace, used: NDArray[np.bool_]) -> TraceModelFit:
    law = time_law(case, model)
    curve, at, draft = DraftLaw(case, model, law), trace.t[used], trace.draft[used]
    weight = np.full(len(at), READING)
    if trace.draft_uncertainty is not None:
        weight = trace.draft_uncertainty[used]
    low, high = _release_bounds(case, at, draft)
    start = [float(at[0])]
    if model != falling.MODEL:
        start, low, high = [*start, USUAL], [*low, FINE[0]], [*high, FINE[-1]]

    def model_draft(p: FloatArray) -> FloatArray:
        return curve.draft(at - p[0], float(p[1]) if len(p) > 1 else USUAL)

    found = fit_parameters(model_draft, draft, weight, start, (low, high))
    independent, supported = _independent(found.residuals / weight), None
    if trace.draft_uncertainty is not None:  # chi^2 of the independent instants against the errors
        freedom = max(independent - len(found.parameters), 1.0)
        chance = chdtrc(freedom, found.chi_square * independent / len(at))
        supported = bool(chance >= DOUBTFUL)
    return TraceModelFit(
        model=model,
        coefficient=_coefficient(case, law, found, independent) if len(start) > 1 else None,
        released=float(found.parameters[0]),
        miss=found.residuals,
        independent=independent,
        supported=supported,
    )


def _release_bounds(
    case: Case, at: FloatArray, draft: FloatArray
) -> tuple[list[float], list[float]]:
    """Bounds of the release [s]; at the later one at most `EARLY` of the way is done."""
    way = case.bowl.rim_height - draft[0]
    gone = np.flatnonzero(draft > draft[0] + EARLY * way)
    last = float(at[gone[0]]) if gone.size else float(at[-1])
    length = float(at[-1] - at[0])
    return [float(at[0]) - length], [max(last, float(at[0]) + 1e-3 * length)]


def _independent(residuals: FloatArray) -> float:
    """Effective number of independent residuals of n correlated ones."""
    off = residuals - np.mean(residuals)
    correlation = float(off[1:] @ off[:-1]) / max(float(off @ off), 1e-300)
    r = min(max(correlation, 0.0), MOST_CORRELATED)
    return len(residuals) * (1.0 - r) / (1.0 + r)


def _coefficient(
    case: Case, law: TimeLaw, found: FitResult, independent: float
) -> ConfidenceInterval | None:
    """Interval from the scatter of the trace and the uncertainties of the case."""
    if not found.inside:
        return None
    value, instants = float(found.parameters[1]), found.freedom + len(found.parameters)
    scatter = found.covariance[1, 1] * found.chi_square / found.freedom * instants / independent
    rise = float(np.gradient(law.log_product, np.log(FINE))[np.searchsorted(FINE, value)])
    open_ = [law.sensitivity[name] * getattr(case.uncertainty, name) for name in law.sensitivity]
    relative = np.array(open_) / (1.0 - rise)
    quantile = float(stdtrit(max(independent - len(found.parameters), 1.0), 0.5 + 0.5 * LEVEL))
    left_open = value**2 * float(np.sum(np.square(relative)))
    half = float(np.sqrt(quantile**2 * scatter + QUANTILE**2 * left_open))
    return ConfidenceInterval(value, value - half, value + half)
