"""The time of release: the rim is at rest before, then moves by v t + a t^2/2 + b t^3/6, v >= 0.

Rest and start are fitted together over the first part of the way, for a fraction of a frame (first
principles; a released bowl starts with a = const., one whose hole is opened with v = const., b is
the following heave). For each time the fit is linear; the best one is taken, and times with a
similar fit give the uncertainty (profile likelihood).
"""

import numpy as np

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.draft_history import smooth_course
from sinkbowl_post.tracing.edge import Edges
from sinkbowl_post.tracing.marks import Streak

FIRST_PART = 0.25  # maximum fitted share of the way to the water
START = 0.15
"""Maximum fitted duration of clear movement [s], or ten frames: a part of a heave period."""
LEAST_START = 10
LEAST_REST = 4  # minimum number of frames at rest
MOVED = 0.5  # clear movement from the position at rest [pixels]
FINE = 0.1  # step of the tried times [frames]
TOGETHER = 2.0
"""Factor of the usual deviation, since deviations of neighbouring frames are correlated."""
SMEARED, SMEARED_WEIGHT = 3.0, 0.3
"""Frames around the release blurred by compression, and their weight."""
SHIFTED = 0.2  # standard shift of the start by compression [frames]
ROUNDS = 4
ODD = 2.0  # deviations from which a position has less weight (Cauchy)
LEAST_USUAL = 0.03  # minimum deviation [pixels]


def find_release(streak: Streak, edges: Edges, rate: float) -> tuple[float, float]:
    """Fractional frame of release, and its standard uncertainty.

    rate : frames per second

    Raises CaseError if the rim is not at rest first, or does not move.
    """
    seen = np.flatnonzero(np.isfinite(edges.place))
    y, water = edges.place[seen], streak.marks.water
    rest = float(np.median(y[:LEAST_REST])) if seen.size else np.nan
    gone = np.flatnonzero(y > rest + FIRST_PART * (water - rest))
    if seen.size < 2 * LEAST_REST or not gone.size:
        raise CaseError(
            "The rim's edge does not go down",
            file=streak.clip.path,
            allowed="Check in the still that --line crosses the rim, and --water crosses the line "
            "below it.",
        )
    off = np.abs(y[: gone[0] + 1] - rest)
    clear = max(MOVED, 8.0 * float(np.median(off[:LEAST_REST])))
    moved = int(np.flatnonzero(off > min(clear, float(off[-1]) - 1e-9))[0])
    if moved < LEAST_REST:
        raise _never_at_rest(streak)
    on_way = edges.place[seen[moved] : seen[gone[-1]] + 1]
    usual = TOGETHER * max(smooth_course(on_way, rate)[2], LEAST_USUAL)
    last = min(int(gone[0]), moved + max(round(START * rate), LEAST_START))
    k, y = seen[: last + 1].astype(float), y[: last + 1]
    moments = np.arange(k[0], k[moved] + FINE, FINE)
    miss = _misses(k, y, moments, usual)
    best = int(np.argmin(miss))
    if moments[best] < k[0] + LEAST_REST - 1:
        raise _never_at_rest(streak)
    likely = np.exp(-0.5 * (miss - miss[best]) / max(miss[best] / len(k), 1.0))
    spread = np.sqrt(np.average((moments - moments[best]) ** 2, weights=likely))
    return float(moments[best]), float(np.hypot(spread, SHIFTED))


def _misses(k: FloatArray, y: FloatArray, moments: FloatArray, usual: float) -> FloatArray:
    """Sum of squared deviations, in usual ones, of the best law for each time of release."""
    since = k - moments[:, None]
    rests = since < 0.0
    counts = np.where(rests, LEAST_REST / np.maximum(rests.sum(axis=1), 1)[:, None], 1.0)
    smeared = np.minimum(counts, SMEARED_WEIGHT)
    counts = np.where(np.abs(since) <= SMEARED, smeared, counts)
    after = np.clip(since, 0.0, None) / np.ptp(k)
    powers = np.stack([np.ones_like(after), after, after**2, after**3], axis=2)
    weight, off = counts, np.zeros_like(after)
    for _ in range(ROUNDS):
        law, off = _best_law(powers, weight, y)
        upwards = law[:, 1] < 0.0
        off[upwards] = _best_law(powers[upwards][:, :, [0, 2, 3]], weight[upwards], y)[1]
        weight = counts / (1.0 + (off / (ODD * usual)) ** 2)
    return np.asarray(ODD**2 * np.sum(counts * np.log1p((off / (ODD * usual)) ** 2), axis=1))


def _best_law(
    powers: FloatArray, weight: FloatArray, y: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Coefficients and deviations of weighted least squares, for all times at once."""
    root = np.sqrt(weight)
    law = np.einsum("mik,mk->mi", np.linalg.pinv(powers * root[:, :, None]), root * y)
    return law, np.einsum("mki,mi->mk", powers, law) - y


def _never_at_rest(streak: Streak) -> CaseError:
    return CaseError(
        "The rim moves from the start of the clip",
        file=streak.clip.path,
        allowed="Give the frame of release with --release, or start the clip earlier.",
    )
