"""A difference of sinking times attributed to its causes, whatever their order.

T is a function of how much of each cause is present, 0 (the model) to 1 (the flow). All causes are
brought in together, a little at a time; at each stage the time that one of them moves is its own:

    share_i = int_0^1 dT/dx_i (s, ..., s) ds

(Aumann & Shapley 1974, Values of Non-Atomic Games, ch. III; from memory). No order of causes
enters, causes can be lumped without changing the others, and the shares add up to T(1) - T(0). The
integral is taken by Gauss's rule with central differences over 2 `REACH`. T jumps where a bob just
reaches the rim or just does not, and a difference may reach across the jump. Along the common way
T is smooth, and its slope is the sum of the single ones: where they miss it, the largest of them is
set to what the others leave. What the rule misses is left over.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sinkbowl.common.sinking import FloatArray

STAGES = 4
REACH = 0.04
"""Points of Gauss's rule, and half the way over which T is differentiated; the first
point is 0.069."""

MISSED = 0.1
"""Share of the largest slope by which their sum may miss the common one."""

Time = Callable[[FloatArray], float | None]
"""Sinking time [s] with these amounts (k,) of the causes; None where the rim stays up."""


def share_out(time: Time, causes: int) -> list[float] | None:
    """Shares of T(1) - T(0) of each cause [s]; None where the rim does not go under on the way.

    Parameters
    ----------
    time : sinking time with given amounts of the causes, 0..1
    causes : how many there are
    """
    shares = np.zeros(causes)
    for place, weight in zip(*np.polynomial.legendre.leggauss(STAGES), strict=True):
        middle = np.full(causes, 0.5 + 0.5 * place)
        steps = [*(REACH * np.eye(causes)), np.full(causes, REACH)]
        slopes = [_slope(time, middle, step) for step in steps]
        if any(slope is None for slope in slopes):
            return None
        *single, common = np.array(slopes, dtype=float)
        shares += 0.5 * weight * _without_jump(np.array(single), float(common))
    return [float(share) for share in shares]


def _slope(time: Time, middle: FloatArray, step: FloatArray) -> float | None:
    """Rate of T along a step; None where the rim stays up."""
    after, before = time(middle + step), time(middle - step)
    return None if after is None or before is None else (after - before) / (2.0 * REACH)


def _without_jump(single: FloatArray, common: float) -> FloatArray:
    """Slopes (k,) that add up to the common one, see the module."""
    largest = int(np.argmax(np.abs(single)))
    missed = common - float(np.sum(single))
    if abs(missed) > MISSED * abs(single[largest]):
        single[largest] += missed
    return single
