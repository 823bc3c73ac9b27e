"""Sentences on a fit: model supported by the data, and limits of the coefficient."""

import math

import numpy as np

from sinkbowl.common.shown import listed
from sinkbowl_post.fitting.estimate import ConfidenceInterval
from sinkbowl_post.fitting.trace import TraceFit
from sinkbowl_post.fitting.trial_fit import ModelFit, TrialFit
from sinkbowl_post.fitting.wetting import AngleFit
from sinkbowl_post.measured.measured import PLUGGED
from sinkbowl_post.style import LINES

THE_MODELS = {
    name: f"the {line.name}" + ("" if line.name.endswith("body") else " model")
    for name, line in LINES.items()
}
"""Models in a sentence."""

LARGE_SHARE = 0.4  # share of the variance from which a cause is named

REMEDIES = {
    "timing": "more trials, or a film instead of a stopwatch",
    "hole": "a plug gauge for the hole",
    "mass": "a finer balance",
    "radius": "a calliper around the rim (uncertainty.radius in the case)",
}
"""Remedy for each cause."""


def trial_verdict(fit: TrialFit) -> list[str]:
    """Sentences about a fit of trials, the main one first."""
    text = [_single_hole(fit)] if len(fit.timed.holes) == 1 else _ranges(fit) + _trends(fit)
    shares = fit.best.shares
    if shares:
        cause = max(shares, key=lambda name: shares[name])
        if shares[cause] >= LARGE_SHARE:
            text.append(
                f"{100 * shares[cause]:.0f} % of the coefficient's variance is the "
                f"{'scatter of the trials' if cause == 'timing' else cause}: "
                f"{REMEDIES[cause]} would reduce it most."
            )
    if fit.angle is not None:
        text.append(_angle(fit.angle))
    elif PLUGGED in fit.failed:
        text.append("The plugged trials give no contact angle: this bowl is not set down gently.")
    return text + [mean.suspect_words for mean in fit.timed.means if mean.suspect_words]


def trace_verdict(fit: TraceFit) -> list[str]:
    """Sentences about a fit of a trace, the main one first."""
    best = fit.best
    coefficient = "" if best.coefficient is None else f", with C_d = {plus_minus(best.coefficient)}"
    text = [
        f"{THE_MODELS[best.model].capitalize()} comes nearest{coefficient}: "
        f"it differs from the trace by {best.rms_difference * 1e3:.2g} mm (root mean square)."
    ]
    others = [
        f"{THE_MODELS[name]} by {one.rms_difference * 1e3:.2g} mm"
        for name, one in fit.models.items()
        if one is not best
    ]
    text.append(f"{listed(others).capitalize()}.")
    supported = [THE_MODELS[name] for name, one in fit.models.items() if one.supported]
    if best.supported is None:
        text.append("A column draft_uncertainty would show whether this is reading error.")
    elif not supported:
        text.append(
            "The differences are larger than the reading uncertainty: every model is excluded."
        )
    else:
        text.append(f"Within the reading uncertainty {listed(supported)} cannot be excluded.")
    return text


def plus_minus(found: ConfidenceInterval) -> str:
    """'0.612 ± 0.008', with decimals for two figures of the half-width."""
    half = found.half_width
    decimals = min(max(1 - math.floor(math.log10(half)), 0), 4) if half > 0.0 else 4
    return f"{found.value:.{decimals}f} ± {half:.{decimals}f}"


def hole_range(low: float, high: float) -> str:
    """'4 to 20 mm'."""
    return f"{low * 1e3:.3g} to {high * 1e3:.3g} mm" if high > low else f"{low * 1e3:.3g} mm"


def _single_hole(fit: TrialFit) -> str:
    names = [THE_MODELS[name] for name, one in fit.models.items() if one.holes is not None]
    if not names:
        return "The trials scatter more than their uncertainties allow, for every model."
    open_still = f"{listed(names)} cannot be excluded"
    return f"One hole cannot distinguish the models: {open_still}. Try other holes."


def _ranges(fit: TrialFit) -> list[str]:
    best, all_holes = fit.best, fit.timed.holes
    if best.holes is None:
        return [
            "No model explains two neighbouring holes with one coefficient: either the "
            "uncertainties are too small, or the coefficient changes from hole to hole."
        ]
    whole = best.holes == (all_holes[0], all_holes[-1])
    text = [_open(best, "any hole tried, " if whole else "holes from ") + "."]
    for one in fit.models.values():
        if one is not best:
            text += _other(fit, one)
    if not whole:
        text.insert(1, _worst(fit, best))
    return text


def _trends(fit: TrialFit) -> list[str]:
    """One sentence per model whose coefficient has a trend."""
    found = {name: fit.trend(name) for name in fit.models}
    return [
        f"With {THE_MODELS[name]} the coefficient changes from {trend.first:.2f} "
        f"({hole_range(trend.narrow, trend.narrow)}) to {trend.last:.2f} "
        f"({hole_range(trend.wide, trend.wide)}): a trend, not an explanation."
        for name, trend in found.items()
        if trend is not None
    ]


def _open(one: ModelFit, what: str) -> str:
    """Holes over which a model cannot be excluded, and its coefficient."""
    assert one.holes is not None
    the = THE_MODELS[one.model].capitalize()
    text = f"{the} cannot be excluded for {what}{hole_range(*one.holes)}"
    if one.coefficient is None:
        return text
    return f"{text}, with one discharge coefficient, {plus_minus(one.coefficient)}"


def _other(fit: TrialFit, one: ModelFit) -> list[str]:
    best = fit.best
    if one.holes is None:
        the = THE_MODELS[one.model].capitalize()
        return [f"{the} is excluded for any two neighbouring holes; {_nearest(fit, one)}."]
    text = _open(one, "holes from ")
    if best.holes and one.holes[0] <= best.holes[1] and best.holes[0] <= one.holes[1]:
        text += f"; there the data cannot distinguish it from {THE_MODELS[best.model]}"
    worst = _worst(fit, one)
    return [f"{text}.", worst] if worst else [f"{text}."]


def _worst(fit: TrialFit, one: ModelFit) -> str:
    """Worst hole outside the range of a model."""
    assert one.holes is not None
    off = {d: r for d, r in _mean_ratios(fit, one).items() if not one.holes[0] <= d <= one.holes[1]}
    if not off:
        return ""
    worst = max(off, key=lambda d: abs(math.log(off[d])))
    return f"It fails worst with {_took(worst, off[worst])}."


def _nearest(fit: TrialFit, one: ModelFit) -> str:
    ratios = _mean_ratios(fit, one)
    near = min(ratios, key=lambda d: abs(math.log(ratios[d])))
    return f"it comes nearest with {_took(near, ratios[near])}"


def _took(hole: float, ratio: float) -> str:
    where = f"the {hole * 1e3:.3g} mm hole, where the bowl took"
    if ratio >= 2.0:
        return f"{where} {ratio:.2g} times as long as predicted"
    return f"{where} {100 * abs(ratio - 1.0):.0f} % {'more' if ratio > 1.0 else 'less'} time"


def _mean_ratios(fit: TrialFit, one: ModelFit) -> dict[float, float]:
    """Measured over model time of each hole, averaged in logarithms."""
    hole = fit.timed.hole
    return {d: float(np.exp(np.mean(np.log(one.ratio[hole == d])))) for d in fit.timed.holes}


def _angle(found: AngleFit) -> str:
    ends = (found.low, found.high)
    low, high = (None if end is None else f"{math.degrees(end):.0f} deg" for end in ends)
    if low and high:
        span = f"{low} to {high}"
    elif low or high:
        span = f"{low} or more" if low else f"{high} or less"
    else:
        span = "any angle: the trials do not restrict it"
    value = "" if found.angle is None else f"{math.degrees(found.angle):.0f} deg, "
    return (
        f"Contact angle, from {found.plugged} plugged trials and {found.started} that started: "
        f"{value}{span} (95 %)."
    )
