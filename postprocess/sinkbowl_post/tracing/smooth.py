"""A smooth course through places of which some belong to other things.

The course z makes sum w (y - z)^2 + k sum (third difference of z)^2 least (Whittaker 1923; k from
the period that is halved, Eilers 2003; both from memory); between places it goes on smoothly. What
lies off weighs less, by Cauchy's weights, in rounds; the first of them are stiffer, so that several
odd places side by side do not draw the course to themselves.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import spsolve

from sinkbowl.common.sinking import FloatArray

SHORTEST = 0.1
"""Period [s] of a bob that the course just follows: that of a bowl that floats 2.5 mm deep."""
FEWEST = 8.0
"""Frames that this period has at least."""
ROUNDS = 12
STIFFER = 2.0
"""Times the period in the first half of the rounds."""
LEAST_USUAL = 0.03
"""Pixels that a place may always lie off without losing weight."""
ODD = 1.0
"""Pixels off the course from which a place is another thing's, and five times the usual."""
TURNING = 0.15
"""Pixels more for each pixel a frame."""


def smooth_course(place: FloatArray, rate: float) -> tuple[FloatArray, NDArray[np.bool_], float]:
    """Course, whether each place lies on it, and how far places usually lie off [pixels].

    Parameters
    ----------
    place : (n,) in frames one after another, nan where there is none; four at least
    rate : frames a second
    """
    there = np.isfinite(place)
    y, weight = np.where(there, place, 0.0), there.astype(float)
    off, usual = np.zeros(len(y)), LEAST_USUAL
    course = y
    period = max(SHORTEST * rate, FEWEST)
    for i in range(ROUNDS):
        course = _whittaker(y, weight, period * (STIFFER if 2 * i < ROUNDS else 1.0))
        off = np.abs(y - course)
        usual = max(1.4826 * float(np.median(off[there])), LEAST_USUAL)
        weight = there / (1.0 + (off / usual) ** 2)
    most = max(ODD, 5.0 * usual) + TURNING * np.abs(np.gradient(course))
    return course, there & ((off <= most) | _unbroken(place, off > most, most)), usual


def _unbroken(place: FloatArray, odd: NDArray[np.bool_], most: FloatArray) -> NDArray[np.bool_]:
    """Which odd places join on to those before and behind: a sharp turn of the edge itself."""
    jump = np.zeros(len(place))
    jump[1:-1] = np.abs(np.diff(place, 2))
    jump = np.where(np.isfinite(jump), jump, np.inf)
    broken = jump > most
    run = np.cumsum(np.diff(odd, prepend=False))  # its odd numbers are the runs of odd places
    run = np.where(odd, run, 0)
    bad = np.zeros(run.max() + 1, dtype=bool)
    for beside in (-1, 0, 1):  # the places at either end of a run join it on
        bad[np.roll(run, beside)[broken]] = True
    return np.asarray(odd & ~bad[run])


def _whittaker(y: FloatArray, weight: FloatArray, period: float) -> FloatArray:
    n = len(y)
    stiff = (2.0 * np.sin(np.pi / period)) ** -6
    ends = [np.full(n - 3, c) for c in (-1.0, 3.0, -3.0, 1.0)]
    third = sparse.diags_array(ends, offsets=[0, 1, 2, 3], shape=(n - 3, n))
    law = sparse.diags_array(weight) + stiff * (third.T @ third)
    return np.asarray(spsolve(law.tocsc(), weight * y))
