"""Roots and minima of functions of one number.

`root` is Brent's method with the operations of scipy.optimize.brentq, which gives the same bits;
`least` is golden-section search. Importing scipy.optimize would take longer than a whole check.
"""

import math
from collections.abc import Callable

Function = Callable[[float], float]

MOST_STEPS = 100
"""Maximum number of steps of Brent's method; ten are usual."""

GOLDEN = 0.5 * (math.sqrt(5.0) - 1.0)


def root(
    function: Function, low: float, high: float, xtol: float = 2e-12, rtol: float = 8.9e-16
) -> float:
    """Root between two places at which the function has different signs (Brent 1973, chapter 4).

    Parameters
    ----------
    xtol, rtol : absolute and relative tolerance

    Raises
    ------
    ValueError : the signs are the same
    ArithmeticError : too many steps: the function is flat at its root
    """
    before, here = low, high
    f_before, f_here = float(function(before)), float(function(here))
    if f_before == 0.0 or f_here == 0.0:
        return before if f_before == 0.0 else here
    if (f_before < 0.0) == (f_here < 0.0):
        raise ValueError(f"no change of sign between {low!r} and {high!r}")
    beyond = f_beyond = last = step = 0.0
    for _ in range(MOST_STEPS):
        if f_before != 0.0 and f_here != 0.0 and (f_before < 0.0) != (f_here < 0.0):
            beyond, f_beyond = before, f_before
            last = step = here - before
        if abs(f_beyond) < abs(f_here):
            before, here, beyond = here, beyond, here
            f_before, f_here, f_beyond = f_here, f_beyond, f_here
        reach, half = (xtol + rtol * abs(here)) / 2.0, (beyond - here) / 2.0
        if f_here == 0.0 or abs(half) < reach:
            return here
        wanted = math.inf
        if abs(last) > reach and abs(f_here) < abs(f_before):
            wanted = _towards(before, here, beyond, f_before, f_here, f_beyond)
        if 2.0 * abs(wanted) < min(abs(last), 3.0 * abs(half) - reach):
            last, step = step, wanted
        else:
            last = step = half
        before, f_before = here, f_here
        here += step if abs(step) > reach else math.copysign(reach, half)
        f_here = float(function(here))
    raise ArithmeticError(f"no root after {MOST_STEPS} steps between {low!r} and {high!r}")


def _towards(
    before: float, here: float, beyond: float, f_before: float, f_here: float, f_beyond: float
) -> float:
    """Step to the root of the secant or the inverse parabola through the last points."""
    if before == beyond:
        return -f_here * (here - before) / (f_here - f_before)
    d_before = (f_before - f_here) / (before - here)
    d_beyond = (f_beyond - f_here) / (beyond - here)
    bend = d_beyond * d_before * (f_beyond - f_before)
    # If the values are so small that their product is 0, there is no direction.
    return -f_here * (f_beyond * d_beyond - f_before * d_before) / bend if bend else math.inf


def least(function: Function, low: float, high: float, close: float) -> tuple[float, float]:
    """Place and value of the minimum of a function with one valley, to within `close`."""
    reach = high - low
    left, right = high - GOLDEN * reach, low + GOLDEN * reach
    f_left, f_right = float(function(left)), float(function(right))
    while reach > close:
        if f_left < f_right:
            high, right, f_right = right, left, f_left
            reach = high - low
            left = high - GOLDEN * reach
            f_left = float(function(left))
        else:
            low, left, f_left = left, right, f_right
            reach = high - low
            right = low + GOLDEN * reach
            f_right = float(function(right))
    return (left, f_left) if f_left < f_right else (right, f_right)
