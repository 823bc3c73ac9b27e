"""The edge to a small part of a pixel: an error function through the grey around it.

A sharp edge behind a lens and a moving shutter is a step folded with a bell curve: grey is
a + b erf((y - c) / (sqrt(2) s)), and c is where it stands (first principles). The bowl's wall
shades slowly, so that a slope beside the step is allowed for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import curve_fit
from scipy.special import erf

from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.follow import Path
from sinkbowl_post.tracing.streak import Streak

HALF_WINDOW = 9
"""Pixels on either side of the path that are fitted."""
CLEAR = 6.0
"""Pixels above the water below which rim and water run into each other in the picture."""
WIDEST = 5.0
"""Blur [pixels] beyond which no edge is told."""
SHARPEST = 0.3
FEWEST = 8
"""Pixels below which nothing is fitted."""
LEAST_SHARE = 0.3
"""Of the step at rest, below which it is something else or hidden."""
LEAST_STEP = 0.5
"""Of the step's height at rest, and one over it: beyond, it is another thing's."""
KNOWN = 0.05
"""Standard uncertainty that no fit goes below [pixels]: samples, compression."""


@dataclass(frozen=True, eq=False)
class Edges:
    """Places of the edge on the line.

    Attributes
    ----------
    place, uncertainty : (m,) [pixels from the line's top], nan where it was not found; standard
    """

    place: FloatArray
    uncertainty: FloatArray


def locate(streak: Streak, path: Path, first: int) -> Edges:
    """Fit the edge in every frame from ``first`` on that shows it."""
    m = streak.grey.shape[1]
    place, uncertainty = np.full(m, np.nan), np.full(m, np.nan)
    step = np.nan
    for k in range(first, m):
        row = int(path.row[k])
        if path.share[k] < LEAST_SHARE or row > streak.marks.water - CLEAR:
            continue
        found = _fit(streak.grey[:, k], row, streak.marks.water, path.sign)
        if found is None:
            continue
        where, off, height = found
        step = height if np.isnan(step) else step
        if LEAST_STEP < height / step < 1.0 / LEAST_STEP:
            place[k], uncertainty[k] = where, np.hypot(off, KNOWN)
    return Edges(place, uncertainty)


def _fit(
    grey: FloatArray, row: int, water: float, sign: float
) -> tuple[float, float, float] | None:
    """Place, its standard uncertainty and the step's height; None where no step is there."""
    low, high = max(row - HALF_WINDOW, 0), min(row + HALF_WINDOW + 1, int(water - 2.0))
    y, seen = np.arange(low, high, dtype=float), np.asarray(grey[low:high], dtype=float)
    if len(y) < FEWEST:
        return None
    middle, half = float(seen.mean()), 0.5 * float(np.ptp(seen))
    if half <= 0.0:
        return None
    bounds = (
        [0.0, 0.0, row - 4.0, SHARPEST, -half / 4],
        [255.0, 255.0, row + 4.0, WIDEST, half / 4],
    )
    start = [middle, half, float(row), 1.2, 0.0]

    def profile(x: FloatArray, a: float, b: float, c: float, s: float, slope: float) -> FloatArray:
        step = erf((x - c) / (np.sqrt(2.0) * s))
        return np.asarray(a + sign * b * step + slope * (x - c))

    try:
        found, covariance = curve_fit(profile, y, seen, start, bounds=bounds, max_nfev=200)
    except (RuntimeError, ValueError):
        return None
    if abs(found[2] - row) > 3.9 or not np.isfinite(covariance[2, 2]):
        return None
    return float(found[2]), float(np.sqrt(covariance[2, 2])), 2.0 * float(found[1])
