"""The moment of letting go: until then the rim rests, from then on it goes down v t + a t^2/2.

Rest and start are fitted together over the first part of the way, so that the moment is known to a
part of a frame (first principles; a bowl that is let go starts with a = const., one whose hole is
opened with v = const., and what lies between with both).
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import least_squares

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.edge import Edges
from sinkbowl_post.tracing.streak import Streak

FIRST_PART = 0.2
"""Share of the way to the water over which rest and start are fitted."""
LEAST_REST = 4
"""Frames of rest without which the moment is not known."""
USUAL_MISS = 0.2
"""Pixels up to which a miss counts with its square, beyond in proportion (outliers)."""


def find_release(streak: Streak, edges: Edges) -> tuple[float, float]:
    """Frame of release, a fraction, and its standard uncertainty.

    Raises
    ------
    CaseError : the rim does not rest first, or does not leave
    """
    seen = np.flatnonzero(np.isfinite(edges.place))
    y = edges.place[seen]
    rest = float(np.median(y[:LEAST_REST])) if seen.size else np.nan
    gone = np.flatnonzero(y > rest + FIRST_PART * (streak.marks.water - rest))
    if seen.size < 2 * LEAST_REST or not gone.size:
        raise CaseError(
            "The rim's edge does not go down",
            file=streak.clip.path,
            allowed="Look at the still: does --line cross the rim, and --water the line below it?",
        )
    k, y = seen[: gone[0] + 1].astype(float), y[: gone[0] + 1]
    moved = np.flatnonzero(y > rest + max(1.0, 5.0 * float(np.std(y[:LEAST_REST]))))
    if not moved.size:
        raise _never_at_rest(streak)
    start = float(k[max(int(moved[0]) - 2, 0)])

    def miss(p: FloatArray) -> FloatArray:
        since = np.clip(k - p[0], 0.0, None)
        return np.asarray(p[1] + p[2] * since + 0.5 * p[3] * since**2 - y)

    low, high = [k[0] - 10.0, rest - 3.0, 0.0, 0.0], [k[-1], rest + 3.0, 200.0, 200.0]
    found = least_squares(
        miss, [start, rest, 0.1, 0.1], bounds=(low, high), loss="soft_l1", f_scale=USUAL_MISS
    )
    if found.x[0] < k[0] + LEAST_REST:
        raise _never_at_rest(streak)
    free = found.active_mask == 0
    spread = float(np.sum(found.fun**2)) / max(len(k) - 4, 1)
    normal = found.jac[:, free].T @ found.jac[:, free]
    own = float(np.linalg.pinv(normal)[0, 0]) * spread if free[0] else 1.0
    return float(found.x[0]), max(np.sqrt(own), 0.05)


def _never_at_rest(streak: Streak) -> CaseError:
    return CaseError(
        "The rim moves from the beginning of the clip",
        file=streak.clip.path,
        allowed="Name the frame of release with --release, or begin the clip earlier.",
    )
