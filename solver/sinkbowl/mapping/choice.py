"""Which bowls to compute next: those of which the surface through the map is least sure.

One after the other, each taken as known before the next is chosen (the pivots of a Cholesky
factorisation of the candidates' covariance), so that they do not crowd in one place. Unsureness is
weighed against effort: a release takes about as many steps as its sinking time has sqrt(R / g).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.corrected.flow_map import MapRow
from sinkbowl.corrected.surface import Surface
from sinkbowl.mapping.fit import known_of

NOISE = 0.01
"""Standard deviation of a single release's ln(time) about the surface, roughly."""


def least_sure(surface: Surface, candidates: Sequence[MapRow], count: int) -> list[int]:
    """Indices of so many candidates, least sure first."""
    effort = np.array([_effort(row) for row in candidates])
    like = [known_of(row.bowl).like for row in candidates]
    x, scale = np.array([one.x for one in like]), np.array([one.scale for one in like])
    left = surface.covariance(x, scale)
    chosen: list[int] = []
    for _ in range(min(count, len(candidates))):
        variance = np.diag(left).copy()
        variance[chosen] = -1.0
        k = int(np.argmax(variance / effort))
        chosen.append(k)
        column = left[:, k] / np.sqrt(left[k, k] + NOISE**2)
        left = left - np.outer(column, column)
    return chosen


def _effort(row: MapRow) -> float:
    """Of a release, with what it takes at the least; arbitrary unit."""
    return 1.0 + row.heave_time / math.sqrt(1e-3 * row.bowl.radius / GRAVITY)
