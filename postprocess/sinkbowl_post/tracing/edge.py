"""The edge to a small part of a pixel: an error function through the grey around it.

A sharp edge behind a lens and a moving shutter is a step folded with a bell curve: grey is
a + b erf((y - c) / (sqrt(2) s)), and c is where it stands (first principles). The bowl's wall
shades slowly, so that a slope beside the step is allowed for. Just above the water two steps run
into each other, rim and water line: there b, s and the slope are those of the frames before, the
water's step stands at the mark, and c remains to be found, down to the water itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import leastsq
from scipy.special import erf

from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.clip import Patience
from sinkbowl_post.tracing.marks import Streak

HALF_WINDOW = 9
"""Pixels on either side of the path that are fitted."""
CLEAR = 3.0
"""Pixels above the water that the water's own blur reaches."""
UNDER = 6.0
"""Pixels below the water that are fitted with it."""
WIDEST = 10.0
"""Blur [pixels] beyond which no edge is told."""
SHARPEST = 0.3
FARTHEST = 4.0
"""Pixels from the path beyond which another thing was found."""
FEWEST = 8
"""Pixels below which nothing is fitted."""
LEAST_STEP = 0.5
"""Of the step's height at rest, and one over it: beyond, it is another thing's."""
MOST_MISSED = 0.3
"""Of the step's half height, root mean square, beyond that at rest: no step any more."""
ALIKE = 10
"""Frames from which the step's shape is taken."""
CONVERGED = (1, 2, 3, 4)
"""What MINPACK calls a fit that has come to its end."""
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


@dataclass(frozen=True)
class _Step:
    """What was fitted: place, its standard uncertainty, half height, blur, slope and misfit."""

    place: float
    off: float
    half: float
    blur: float
    slope: float
    missed: float


def locate(
    streak: Streak, row: NDArray[np.intp], sign: float, first: int, patience: Patience
) -> Edges:
    """Fit the edge in every frame from ``first`` on that shows it near a row of the line.

    Parameters
    ----------
    row : (m,) steps down the line
    sign : +1 where grey rises down the line, -1 where it falls
    """
    m, water = streak.grey.shape[1], streak.marks.water
    place, uncertainty = np.full(m, np.nan), np.full(m, np.nan)
    steps: list[_Step] = []
    for k in range(first, m):
        patience.step(m + k, 2 * m)
        grey, near = streak.grey[:, k], row[k] > water - HALF_WINDOW - CLEAR
        if near and len(steps) >= ALIKE:
            found = _at_water(grey, int(row[k]), water, sign, steps)
        else:
            # a wide blur and a slope look alike: once known, the slope is the wall's own
            slope = _usual(steps[:ALIKE], "slope") if len(steps) >= ALIKE else None
            found = _free(grey, int(row[k]), water, sign, slope)
            if found is not None:
                usual = _usual(steps[:ALIKE] or [found], "half")
                if not LEAST_STEP < found.half / usual < 1.0 / LEAST_STEP:
                    continue
        if found is None:
            continue
        if found.missed < MOST_MISSED * found.half + _usual(steps[:ALIKE] or [found], "missed"):
            if not near:
                steps.append(found)
            place[k], uncertainty[k] = found.place, np.hypot(found.off, KNOWN)
    return Edges(place, uncertainty)


def _usual(steps: list[_Step], what: str) -> float:
    return float(np.median([getattr(step, what) for step in steps]))


def _free(
    grey: FloatArray, row: int, water: float, sign: float, slope: float | None
) -> _Step | None:
    """The step well above the water, with all that belongs to it; None where there is none."""
    y, seen = _window(grey, row - HALF_WINDOW, min(row + HALF_WINDOW + 1, int(water - CLEAR)))
    if len(y) < FEWEST:
        return None

    def parts(p: FloatArray) -> tuple[float, ...]:
        return (*p, slope) if slope is not None else tuple(p)

    def miss(p: FloatArray) -> FloatArray:
        a, b, c, s, along = parts(p)
        return np.asarray(a + b * sign * _step(y, c, s) + along * (y - c) - seen)

    def change(p: FloatArray) -> FloatArray:
        _, b, c, s, along = parts(p)
        wider = -sign * b * (y - c) * _bell(y, c, s) * s / (s**2 + SHARPEST**2)
        moved = -sign * b * _bell(y, c, s) - along
        columns = [np.ones(len(y)), sign * _step(y, c, s), moved, wider, y - c]
        return np.stack(columns[: len(p)], axis=1)

    start = [float(seen.mean()), 0.5 * float(np.ptp(seen)), float(row), 1.2]
    found = _fitted(miss, change, start if slope is not None else [*start, 0.0], 2)
    if found is None:
        return None
    (_, half, place, blur, *beside), off, missed = found
    blur, along = abs(blur), beside[0] if slope is None else slope
    good = half > 4.0 * abs(along) and blur < WIDEST and abs(place - row) < FARTHEST
    return _Step(place, off, half, blur, along, missed) if good else None


def _at_water(
    grey: FloatArray, row: int, water: float, sign: float, steps: list[_Step]
) -> _Step | None:
    """The step with the water's own beside it, in the shape that it had."""
    y, seen = _window(grey, row - HALF_WINDOW, int(water + UNDER) + 1)
    if len(y) < FEWEST:
        return None
    half, blur, slope = (_usual(steps[-ALIKE:], what) for what in ("half", "blur", "slope"))
    still = _usual(steps[:ALIKE], "blur")
    wet, whole = _step(y, water, still), np.ones(len(y))

    def miss(p: FloatArray) -> FloatArray:
        wall = slope * np.clip(y - p[1], None, water - p[1])
        return np.asarray(p[0] + sign * half * _step(y, p[1], blur) + p[2] * wet + wall - seen)

    def change(p: FloatArray) -> FloatArray:
        return np.stack([whole, -sign * half * _bell(y, p[1], blur) - slope, wet], axis=1)

    found = _fitted(miss, change, [float(seen.mean()), float(row), 0.0], 1)
    if found is None:
        return None
    (_, place, _), off, missed = found
    near = abs(place - row) < FARTHEST
    return _Step(place, off, half, blur, slope, missed) if near else None


def _window(grey: FloatArray, low: int, high: int) -> tuple[FloatArray, FloatArray]:
    y = np.arange(max(low, 0), min(high, len(grey)), dtype=np.float64)
    return y, np.asarray(grey[max(low, 0) : max(high, 0)], dtype=np.float64)


def _step(y: FloatArray, c: float, s: float) -> FloatArray:
    return np.asarray(erf((y - c) / (np.sqrt(2.0) * np.hypot(s, SHARPEST))))


def _bell(y: FloatArray, c: float, s: float) -> FloatArray:
    """What a step rises by in a pixel."""
    wide = np.hypot(s, SHARPEST)
    return np.asarray(np.sqrt(2.0 / np.pi) / wide * np.exp(-0.5 * ((y - c) / wide) ** 2))


def _fitted(
    miss: Callable[[FloatArray], FloatArray],
    change: Callable[[FloatArray], FloatArray],
    start: list[float],
    c: int,
) -> tuple[list[float], float, float] | None:
    """Parameters, standard uncertainty of the c-th, misfit (root mean square)."""
    found, _, told, _, state = leastsq(miss, start, Dfun=change, full_output=True, maxfev=100)
    if state not in CONVERGED:
        return None
    square, slopes = float(np.mean(told["fvec"] ** 2)), change(found)
    free = len(slopes) - len(start)
    # a step sharper than a pixel leaves its blur open, hence the pseudo-inverse
    spread = float(np.linalg.pinv(slopes.T @ slopes)[c, c]) * square * len(slopes) / free
    return [float(p) for p in found], float(np.sqrt(spread)), float(np.sqrt(square))
