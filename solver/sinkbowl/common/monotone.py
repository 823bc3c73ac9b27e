"""Monotone cubic interpolation (Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300; ends by
Moler, "Numerical Computing with MATLAB", 3.6; both from memory).

Equal to scipy.interpolate.PchipInterpolator, whose import takes half a second.
"""

import numpy as np

from sinkbowl.common.sinking import FloatArray


class Monotone:
    """Interpolation of values (n, ...) at ascending places (n,), n >= 2; end cubics extrapolate."""

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
