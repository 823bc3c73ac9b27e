"""Sinking time of a bowl by a reduced model, against discharge coefficient and inputs.

A fit needs the time T at many coefficients C, so it is computed at some and interpolated: ln(C T)
against ln C, monotone cubics. In the quasi-static model C T is constant, and nearly so for slow
filling; otherwise it oscillates, because heave shifts the time at which the rim goes under, and has
a kink at C = 1/2, below which the heave model's jet contracts no more. Points are added half way
until the cubics agree with them, or all of `COEFFICIENTS` are used. Sensitivities to hole, mass and
radius are difference quotients.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.numerics import Monotone
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.corrected.correction import with_coefficient
from sinkbowl.design.budget.variation import varied
from sinkbowl.reduced import falling, heave, quasi_static

COEFFICIENTS = (
    *(0.4, 0.45, 0.5, 0.53, 0.56, 0.59, 0.62, 0.65, 0.68, 0.71, 0.74, 0.78, 0.82, 0.86, 0.91, 0.95),
    1.0,
)
"""Coefficients at which the time may be computed; jets narrower than 0.4 are unknown."""

USUAL = 0.62
"""Coefficient at which the inputs are varied, and start of every fit; one of `COEFFICIENTS`."""

BEND = 0.5  # coefficient with a possible kink; one of `COEFFICIENTS`
STEADY = 2e-3  # change of ln(C T) below which the ends and `USUAL` are enough
MET = 5e-4  # error of the cubics in ln(C T) above which both halves get a point
STEP = 1e-3  # relative variation of the inputs

FINE = np.geomspace(COEFFICIENTS[0], COEFFICIENTS[-1], 400)
FINE[[0, -1]] = COEFFICIENTS[0], COEFFICIENTS[-1]
"""Coefficients at which a law is stored; between them times are linear."""


class NeverSinks(Exception):
    """The model gives no sinking time; the message says what happens instead."""


@dataclass(frozen=True, eq=False)
class TimeLaw:
    """Time until the rim is under.

    log_product : ln(C T), T in s, at each of `FINE`
    sensitivity : d ln T / dx of hole [1/m], mass [1/kg] and radius [1/m]
    """

    log_product: FloatArray
    sensitivity: Mapping[str, float]


def time_law(case: Case, model: str) -> TimeLaw:
    """Compute the law of one case.

    Raises NeverSinks if by this model the bowl does not sink, or goes under at once; RunError if
    the model does not end.
    """
    usual = _log_time(case, model, USUAL)
    sizes = {"hole": case.hole.diameter, "mass": case.total_mass, "radius": case.bowl.rim_radius}
    sensitivity = {
        name: (usual - _log_time(_smaller(case, name, STEP * size), model, USUAL)) / (STEP * size)
        for name, size in sizes.items()
    }
    if model == falling.MODEL:
        return TimeLaw(usual + np.log(FINE), sensitivity)
    if model == quasi_static.MODEL:
        return TimeLaw(np.full(len(FINE), usual + np.log(USUAL)), sensitivity)
    known = {COEFFICIENTS.index(USUAL): usual + float(np.log(USUAL))}
    _refine(
        known, lambda i: _log_time(case, model, COEFFICIENTS[i]) + float(np.log(COEFFICIENTS[i]))
    )
    return TimeLaw(_interpolated(known), sensitivity)


def solve_at(case: Case, model: str, coefficient: float) -> Sinking:
    """Sinking up to the rim with a constant coefficient, without meniscus."""
    if model in (heave.MODEL, corrected.MODEL):
        by_heave = _by_heave(case, coefficient)
        if model == heave.MODEL:
            return by_heave
        return corrected.corrected(_open(case, coefficient), by_heave).sinking
    return MODELS[model](_open(case, coefficient), beyond=False)


@lru_cache(maxsize=64)
def _by_heave(case: Case, coefficient: float) -> Sinking:
    """The heave model's time, basis of the corrected one."""
    return heave.solve(_open(case, coefficient), beyond=False)


@lru_cache(maxsize=8)
def _smaller(case: Case, name: str, step: float) -> Case:
    """The case with one input reduced, the same object for all models."""
    return varied(case, {name: -step})


def _open(case: Case, coefficient: float) -> Case:
    """The case with a constant coefficient and without a meniscus."""
    return replace(with_coefficient(case, coefficient), contact_angle=0.0)


def _refine(known: dict[int, float], value: Callable[[int], float]) -> None:
    """Add values at the ends of `COEFFICIENTS`, and half way where the cubics are inaccurate."""
    for end in (0, len(COEFFICIENTS) - 1):
        known[end] = value(end)
    if max(known.values()) - min(known.values()) < STEADY:
        return
    known[COEFFICIENTS.index(BEND)] = value(COEFFICIENTS.index(BEND))
    pairs = list(pairwise(sorted(known)))
    while pairs:
        i, j = pairs.pop()
        k = (i + j) // 2
        if k == i:
            continue
        predicted = np.interp(np.log(COEFFICIENTS[k]), np.log(FINE), _interpolated(known))
        known[k] = value(k)
        if abs(known[k] - predicted) > MET:
            pairs += [(i, k), (k, j)]


def _interpolated(known: Mapping[int, float]) -> FloatArray:
    """ln(C T) at `FINE`, separately on both sides of the kink if that was computed."""
    bend, last = COEFFICIENTS.index(BEND), len(COEFFICIENTS) - 1
    sides = [(0, bend), (bend, last)] if bend in known else [(0, last)]
    fine, result = np.log(FINE), np.empty(len(FINE))
    for first, end in sides:
        nodes = [i for i in sorted(known) if first <= i <= end]
        curve = Monotone(
            np.log([COEFFICIENTS[i] for i in nodes]), np.array([known[i] for i in nodes])
        )
        here = (fine >= curve.x[0]) & (fine <= curve.x[-1])
        result[here] = curve(fine[here])
    return result


def _log_time(case: Case, model: str, coefficient: float) -> float:
    sinking = solve_at(case, model, coefficient)
    if not sinking.sinking_time:
        raise NeverSinks(sinking.outcome)
    return float(np.log(sinking.sinking_time))
