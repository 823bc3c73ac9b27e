"""The contact angle from trials that stayed plugged and trials that started.

A bowl that is set down gently starts if the head at its dry draft is above the head H(d, theta) at
which the meniscus in its hole breaks. Real menisci scatter about that by some 20 %; as a
rectangular distribution this is a standard deviation of 0.2 / sqrt(3) of H (JCGM 100:2008, 4.3.7).
The probability of the outcome of trial i is

    p_i = Phi(+-(h_i - H_i) / s_i),   s_i = 0.2 / sqrt(3) H_i,   + started, - plugged,

and the angle minimises -2 sum ln p_i. The 95 % interval contains the angles with a sum less than
3.84 above the minimum (likelihood ratio; Wilks 1938, Ann. Math. Stat. 9, 60). It is open if all
trials were plugged, or all started. Above 90 deg a meniscus holds hardly more than at 90 deg.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, log_ndtr

from sinkbowl.common import LEVEL
from sinkbowl.common.numerics import Monotone, least, root
from sinkbowl.common.sinking import FloatArray
from sinkbowl.statics.capillarity import capillary_length, hole_breakthrough_head
from sinkbowl.statics.hydrostatics import start_head
from sinkbowl_post.fitting.trial_cases import TrialCase
from sinkbowl_post.measured.measured import PLUGGED, SINKS

SCATTER = 0.2 / np.sqrt(3.0)  # relative standard deviation of the head that a meniscus holds

ANGLES = np.radians(np.linspace(2.0, 90.0, 12))
"""Angles at which that head is computed [rad]; monotone cubics between them."""

CLOSE = 1e-6  # accuracy of the angle [rad]
CERTAIN = 2.0  # ratio to the maximum head of a meniscus above which a bowl certainly starts


@dataclass(frozen=True)
class AngleFit:
    """Contact angle from trials that stayed plugged or started.

    angle : most likely [rad], None if at an end of `ANGLES`
    low, high : confidence interval [rad], None if open
    plugged, started : numbers of trials
    """

    angle: float | None
    low: float | None
    high: float | None
    plugged: int
    started: int


def fit_angle(cases: Sequence[TrialCase]) -> AngleFit | None:
    """Contact angle; None if no trial stayed plugged, or the bowls were not set down gently."""
    cases = [one for one in cases if one.trial.outcome in (SINKS, PLUGGED)]
    plugged = np.array([one.trial.plugged for one in cases], dtype=bool)
    if not np.any(plugged) or any(one.case.start.kind != "set down" for one in cases):
        return None
    started = int(np.count_nonzero(~plugged))
    cases = [one for one in cases if one.trial.plugged or _in_doubt(one)]
    plugged = np.array([one.trial.plugged for one in cases], dtype=bool)
    head = np.array([start_head(one.case) for one in cases], dtype=float)
    held = _held_heads(cases)

    def total(angle: float) -> float:
        return -2.0 * float(np.sum(_log_chance(head, held(angle), plugged)))

    ends = float(ANGLES[0]), float(ANGLES[-1])
    i, last = int(np.argmin([total(float(angle)) for angle in ANGLES])), len(ANGLES) - 1
    beside = float(ANGLES[max(i - 1, 0)]), float(ANGLES[min(i + 1, last)])
    best, lowest = least(total, *beside, CLOSE)
    limit = lowest + float(chdtri(1, 1.0 - LEVEL))
    settled = ends[0] + 1e-2 < best < ends[1] - 1e-2

    def edge(end: float) -> float | None:
        if total(end) <= limit:
            return None
        return root(lambda angle: total(angle) - limit, best, end, xtol=CLOSE)

    return AngleFit(
        angle=best if settled else None,
        low=edge(ends[0]),
        high=edge(ends[1]),
        plugged=int(np.count_nonzero(plugged)),
        started=started,
    )


def _in_doubt(one: TrialCase) -> bool:
    """Whether a bowl that started gives information on the angle."""
    head, d = start_head(one.case), one.setup.hole
    most = 4.0 * capillary_length(one.case.water) ** 2 / d + d
    return head is not None and head < CERTAIN * most


def _held_heads(cases: Sequence[TrialCase]) -> Callable[[float], FloatArray]:
    """Head that the meniscus of each trial holds [m], against the contact angle [rad]."""
    curves: dict[float, Monotone] = {}
    for one in cases:
        d, water = one.setup.hole, one.case.water
        if d not in curves:
            heads = [hole_breakthrough_head(d, water, float(angle)) for angle in ANGLES]
            curves[d] = Monotone(ANGLES, np.array(heads))

    def held(angle: float) -> FloatArray:
        by_hole = {d: float(curve(np.array(angle))) for d, curve in curves.items()}
        return np.array([by_hole[one.setup.hole] for one in cases])

    return held


def _log_chance(head: FloatArray, held: FloatArray, plugged: NDArray[np.bool_]) -> FloatArray:
    """ln p of the outcome of each trial, (n,)."""
    above = (head - held) / (SCATTER * held)
    return np.asarray(log_ndtr(np.where(plugged, -above, above)))
