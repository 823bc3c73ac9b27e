"""Volume below a height as a table for Python and compiled kernels."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
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
