"""What scipy has too, without its import, which takes half a second: longer than a whole check.

`root` is Brent's method with the operations of scipy.optimize.brentq, which gives the same bits;
`least` is golden-section search, `bisected` halves. `VolumeTable` is a piecewise cubic, for Python
and compiled kernels. `frozen` makes arrays read-only, so that they can be shared.
"""

import math
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common import LEVEL
from sinkbowl.common.sinking import FloatArray

Function = Callable[[float], float]

MOST_STEPS = 100  # maximum number of steps of Brent's method; ten are usual

GOLDEN = 0.5 * (math.sqrt(5.0) - 1.0)


def root(
    function: Function, low: float, high: float, xtol: float = 2e-12, rtol: float = 8.9e-16
) -> float:
    """Root between two places at which the function has different signs (Brent 1973, chapter 4).

    xtol, rtol : absolute and relative tolerance

    Raises ValueError if the signs are the same, ArithmeticError after too many steps: the function
    is flat at its root.
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


def bisected(
    held: Callable[[float], bool], here: float, there: float, close: float
) -> tuple[float, float]:
    """Neighbouring places at most `close` apart: a condition holds at the first, not the second.

    It holds `here` and not `there`; `there` may be on either side.
    """
    while abs(there - here) > close:
        middle = 0.5 * (here + there)
        here, there = (middle, there) if held(middle) else (here, middle)
    return here, there


class Monotone:
    """Monotone cubic interpolation of values (n, ...) at ascending places (n,), n >= 2.

    Equal to scipy.interpolate.PchipInterpolator (Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput.
    5, 300; ends by Moler, "Numerical Computing with MATLAB", 3.6; both from memory). End cubics
    extrapolate.
    """

    def __init__(self, x: FloatArray, values: FloatArray) -> None:
        self.x = np.asarray(x, dtype=float)
        self._values = np.asarray(values, dtype=float)
        apart = (slice(None), *(self._values.ndim - 1) * (None,))
        self._step = np.diff(self.x)[apart]
        self._chord = np.diff(self._values, axis=0) / self._step
        self._slope = self._slopes()

    def __call__(self, at: FloatArray) -> FloatArray:
        """Values (m, ...) at places (m,)."""
        at = np.asarray(at, dtype=float)
        i = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, len(self.x) - 2)
        s = (at - self.x[i]).reshape(at.shape + (self._values.ndim - 1) * (1,))
        h, chord, low, high = self._step[i], self._chord[i], self._slope[i], self._slope[i + 1]
        bend = (low + high - 2.0 * chord) / h
        return np.asarray(
            self._values[i] + s * (low + s * ((chord - low) / h + bend * (s / h - 1)))
        )

    def _slopes(self) -> FloatArray:
        """Slopes at the places (n, ...): harmonic means of the chords, 0 at an extremum."""
        h, chord = self._step, self._chord
        if len(chord) == 1:
            return np.concatenate((chord, chord))
        before, after = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
        alike = chord[:-1] * chord[1:] > 0.0
        one, two = np.where(alike, chord[:-1], 1.0), np.where(alike, chord[1:], 1.0)
        inner = np.where(alike, (before + after) / (before / one + after / two), 0.0)
        first = _end(h[0], h[1], chord[0], chord[1])
        last = _end(h[-1], h[-2], chord[-1], chord[-2])
        return np.concatenate((first[None], inner, last[None]))


def _end(h: FloatArray, next_h: FloatArray, chord: FloatArray, after: FloatArray) -> FloatArray:
    """Slope at an end: that of the parabola, limited so that the cubic stays monotone."""
    slope = ((2.0 * h + next_h) * chord - h * after) / (h + next_h)
    slope = np.where(slope * chord <= 0.0, 0.0, slope)
    steep = (chord * after < 0.0) & (np.abs(slope) > 3.0 * np.abs(chord))
    return np.asarray(np.where(steep, 3.0 * chord, slope))


def student(freedom: int, chance: float = LEVEL) -> float:
    """Half-width about 0, in standard deviations, that contains a probability of Student's t.

    With t = sqrt(n) tan(a) the probability is a finite sum over the powers of cos(a) (Abramowitz &
    Stegun 26.7.3, 26.7.4; from memory; a test compares it with scipy).
    """
    odd = freedom % 2

    def missing(angle: float) -> float:
        term = math.sin(angle) * (math.cos(angle) if odd else 1.0)
        total = term if freedom > 1 else 0.0
        for k in range(1 + odd, freedom - 2, 2):
            term *= k / (k + 1) * math.cos(angle) ** 2
            total += term
        return (2.0 / math.pi * (angle + total) if odd else total) - chance

    return math.sqrt(freedom) * math.tan(root(missing, 0.0, 0.5 * math.pi, xtol=1e-16))


Value = float | FloatArray


class VolumeTable(NamedTuple):
    """Volume below a height, as cubics plus or minus that of round ballast rings.

    heights : (k+1,) ascending [m]
    cubic : (k, 4) volume in powers of (z - heights[i]), washers and bands included
    rings : (m, 4) volume [m^3], negative if subtracted; radius of the centre line, height of the
        centre, radius of the section [m]
    """

    heights: FloatArray
    cubic: FloatArray
    rings: FloatArray

    def volume(self, z: Value) -> FloatArray:
        """Volume below z [m^3]; constant beyond the ends."""
        i, s = self._locate(z)
        c = self.cubic[i].T
        found = c[0] + s * (c[1] + s * (c[2] + s * c[3]))
        for whole, _, height, section in self.rings:
            x = np.clip((z - height) / section, -1.0, 1.0)
            share = (math.pi - np.arccos(x) + x * np.sqrt(1.0 - x * x)) / math.pi
            found = found + whole * share
        return np.asarray(found)

    def area(self, z: Value) -> FloatArray:
        """Area at z [m^2]; on a flat step the area just above it."""
        i, s = self._locate(z)
        c = self.cubic[i].T
        found = c[1] + s * (2.0 * c[2] + s * 3.0 * c[3])
        for whole, radius, height, section in self.rings:
            half_chord = np.sqrt(np.maximum(section**2 - (z - height) ** 2, 0.0))
            found = found + np.sign(whole) * 4.0 * math.pi * radius * half_chord
        return np.asarray(found)

    def _locate(self, z: Value) -> tuple[NDArray[np.intp], FloatArray]:
        clipped = np.clip(z, self.heights[0], self.heights[-1])
        i = np.asarray(np.searchsorted(self.heights[1:-1], clipped, side="right"))
        return i, np.asarray(clipped - self.heights[i])


AnyArray = TypeVar("AnyArray", bound=NDArray[Any])


def frozen(array: AnyArray) -> AnyArray:
    """The array itself if it is read-only, else a read-only copy."""
    if array.flags.writeable:
        array = array.copy(order="K")
        array.setflags(write=False)
    return array


class FrozenArrays:
    """Base of frozen dataclasses: makes the arrays in their fields read-only."""

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                object.__setattr__(self, name, frozen(value))
