"""Subpixel position of the edge: fit of an error function to the grey levels.

A sharp edge with blur by lens and motion is a step convolved with a Gaussian: grey is a + b erf((y
- c) / (sqrt(2) s)), c being its position (first principles). A slope allows for the shading of the
bowl's wall. Just above the water the steps of rim and water line merge: there b, s and the slope
are those of earlier frames, the water's step is at its mark, and only c is fitted.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import leastsq
from scipy.special import erf

from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.clip import Patience
from sinkbowl_post.tracing.marks import Streak

HALF_WINDOW = 9  # half-width of the fitted window [pixels]
CLEAR = 3.0  # distance above the water affected by its blur [pixels]
UNDER = 6.0  # distance below the water that is fitted [pixels]
WIDEST = 10.0  # maximum blur of an edge [pixels]
SHARPEST = 0.3
FARTHEST = 4.0  # maximum distance from the path [pixels]
FEWEST = 8  # minimum number of fitted pixels
LEAST_STEP = 0.5
"""Minimum ratio of the step's height to that at rest; its reciprocal is the maximum."""
MOST_MISSED = 0.3  # maximum rms misfit beyond that at rest, as a share of the step's half height
ALIKE = 10  # number of frames for the step's shape
CONVERGED = (1, 2, 3, 4)  # MINPACK codes of converged fits
KNOWN = 0.05  # minimum standard uncertainty [pixels], for sampling and compression


@dataclass(frozen=True, eq=False)
class Edges:
    """Positions of the edge on the line.

    place, uncertainty : (m,) [pixels from the line's top], nan if not found; standard
    """

    place: FloatArray
    uncertainty: FloatArray


@dataclass(frozen=True)
class _Step:
    """Fitted position, its standard uncertainty, half height, blur, slope and misfit."""

    place: float
    off: float
    half: float
    blur: float
    slope: float
    missed: float


def locate(
    streak: Streak, row: NDArray[np.intp], sign: float, first: int, patience: Patience
) -> Edges:
    """Fit the edge near a row of the line in every frame from ``first`` on.

    row : (m,) steps down the line
    sign : +1 if grey increases down the line, -1 if it decreases
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
            # a wide blur and a slope are similar: the slope is then fixed
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
    """The step well above the water, all parameters free; None if there is none."""
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
    """The step near the water's, with its earlier shape."""
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
    """Rise of a step in a pixel."""
    wide = np.hypot(s, SHARPEST)
    return np.asarray(np.sqrt(2.0 / np.pi) / wide * np.exp(-0.5 * ((y - c) / wide) ** 2))


def _fitted(
    miss: Callable[[FloatArray], FloatArray],
    change: Callable[[FloatArray], FloatArray],
    start: list[float],
    c: int,
) -> tuple[list[float], float, float] | None:
    """Parameters, standard uncertainty of the c-th, misfit (root mean square)."""
    found, _, info, _, state = leastsq(miss, start, Dfun=change, full_output=True, maxfev=100)
    if state not in CONVERGED:
        return None
    square, slopes = float(np.mean(info["fvec"] ** 2)), change(found)
    free = len(slopes) - len(start)
    # the blur of a step sharper than a pixel is undetermined, hence the pseudo-inverse
    spread = float(np.linalg.pinv(slopes.T @ slopes)[c, c]) * square * len(slopes) / free
    return [float(p) for p in found], float(np.sqrt(spread)), float(np.sqrt(square))
