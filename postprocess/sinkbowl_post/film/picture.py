"""Pixels of the cutaway: a water field on a graded grid, in section, in the laboratory frame.

The water's edge is the contour of volume fraction 1/2, interpolated linearly between cell centres
and softened over one pixel. Cells inside the solid have no volume fraction of their own: they take
their neighbours', so that the contour runs on under the bowl's wall, which is drawn on top.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.colors import Colormap, to_rgb
from numpy.typing import NDArray

from sinkbowl_post.style import AIR, PAPER, SURFACE_LINE

Array = NDArray[np.float32]

SOLID_BELOW = 0.05  # open fraction under which a cell's own values mean nothing
SPREAD_SWEEPS = 3  # cells that the water is carried on into the solid, and its colour into the air
EDGE_WIDTH = 3.3  # px, the dark line along the water's edge
AIR_INDEX = 256  # the air's place in the palette, behind the colours of the water


@dataclass(frozen=True)
class Window:
    """The part of the laboratory that the picture shows: |r| <= reach, bottom <= z <= top [m]."""

    reach: float
    bottom: float
    top: float
    columns: int
    rows: int


def bracket(
    centres: NDArray[np.floating], at: NDArray[np.floating]
) -> tuple[NDArray[np.intp], NDArray[np.floating]]:
    """Index of the centre below each place and the share of the next; the end cells carry on."""
    low = np.clip(np.searchsorted(centres, at) - 1, 0, len(centres) - 2)
    share = (at - centres[low]) / (centres[low + 1] - centres[low])
    return low, np.clip(share, 0.0, 1.0)


@dataclass(frozen=True)
class Blend:
    """Linear interpolation along one axis: cell pairs (low, low + 1) and the share of the upper."""

    low: NDArray[np.intp]
    share: Array

    @classmethod
    def between(cls, centres: NDArray[np.floating], at: NDArray[np.floating]) -> Blend:
        """Weights at the places ``at``; outside the centres the end cells carry on."""
        low, share = bracket(centres, at)
        return cls(low, share.astype(np.float32))

    def rows_of(self, field: Array) -> Array:
        """Interpolate along the first axis."""
        share = self.share[:, None]
        lower = np.take(field, self.low, axis=0)
        result: Array = lower + share * (np.take(field, self.low + 1, axis=0) - lower)
        return result


class Painter:
    """Paints the water of one result, frame by frame.

    Parameters
    ----------
    r_f, z_f : faces of the grid [m], bowl frame
    open_fraction : (nr, nz)
    window : what is shown, and in how many pixels (an even number of columns)
    colours, top_value : colour map of the shown quantity, and the value at its upper end
    """

    def __init__(
        self,
        r_f: NDArray[np.float64],
        z_f: NDArray[np.float64],
        open_fraction: NDArray[np.float64],
        window: Window,
        colours: Colormap,
        top_value: float,
    ) -> None:
        self._window = window
        self._z_c = (z_f[1:] + z_f[:-1]) / 2
        half = window.columns // 2
        pixel = window.reach / half
        radii = (np.arange(half) + 0.5) * pixel
        self._across = Blend.between((r_f[1:] + r_f[:-1]) / 2, radii)
        self._outside_tub = radii > r_f[-1]
        self._open = open_fraction >= SOLID_BELOW
        water = colours(np.linspace(0, 1, AIR_INDEX))[:, :3] * 255
        self._palette = np.vstack([water, _rgb(AIR)]).astype(np.uint8)
        self._top_value = top_value

    def paint(self, volume_fraction: Array, quantity: Array, draft: float) -> NDArray[np.uint8]:
        """Picture (rows, columns, 3) of one frame, both sides of the axis.

        Parameters
        ----------
        volume_fraction, quantity : (nr, nz), the quantity in the unit of ``top_value``
        draft : depth of the bowl's bottom [m]
        """
        down = self._down(draft)
        water = spread(volume_fraction, self._open)
        wet = self._open & (volume_fraction >= 0.5)
        colour = self._sample(spread(quantity, wet), down)
        half = self._compose(self._sample(water, down), colour)
        half[:, self._outside_tub] = _rgb(PAPER)
        return np.concatenate([half[:, ::-1], half], axis=1)

    def _down(self, draft: float) -> Blend:
        window = self._window
        heights = np.linspace(window.top, window.bottom, 2 * window.rows + 1)[1::2]
        return Blend.between(self._z_c, heights + draft)

    def _sample(self, field: Array, down: Blend) -> Array:
        return self._across.rows_of(down.rows_of(field.T).T).T

    def _compose(self, fraction: Array, quantity: Array) -> NDArray[np.uint8]:
        scaled = np.clip(quantity * (255 / self._top_value), 0, 255).astype(np.intp)
        picture = self._palette[np.where(fraction > 0.5, scaled, AIR_INDEX)]
        row, column = np.nonzero(np.abs(fraction - 0.5) < 0.49)
        slope: Array = np.maximum(_slope(fraction, row, column), np.float32(1e-3))
        distance: Array = (fraction[row, column] - np.float32(0.5)) / slope
        close = np.abs(distance) < EDGE_WIDTH / 2 + 0.5
        spots = (row[close], column[close])
        picture[spots] = self._soft_edge(distance[close], scaled[spots])
        return picture

    def _soft_edge(self, distance: Array, scaled: NDArray[np.intp]) -> NDArray[np.uint8]:
        """Pixels (n, 3) at a distance [px] into the water: air, water, and the line between."""
        air, line = _rgb(AIR), _rgb(SURFACE_LINE)
        covered = np.clip(distance + 0.5, 0.0, 1.0)[:, None]
        drawn = np.clip((EDGE_WIDTH + 1) / 2 - np.abs(distance), 0.0, 1.0)[:, None]
        colour = air + covered * (self._palette[scaled] - air)
        colour += drawn * (line - colour)
        return np.asarray(colour, dtype=np.uint8)


def spread(field: Array, known: NDArray[np.bool_], sweeps: int = SPREAD_SWEEPS) -> Array:
    """Carry a field from the cells where it is known a few cells on into the others.

    Each sweep gives an unknown cell the mean of its known neighbours; cells farther away get 0.
    """
    value = np.where(known, field, 0).astype(np.float32)
    weight = known.astype(np.float32)
    for _ in range(sweeps):
        total, count = _neighbours(value), _neighbours(weight)
        fresh = (weight == 0) & (count > 0)
        value[fresh] = total[fresh] / count[fresh]
        weight[fresh] = 1
    return value


def _neighbours(field: Array) -> Array:
    total = np.zeros_like(field)
    total[1:] += field[:-1]
    total[:-1] += field[1:]
    total[:, 1:] += field[:, :-1]
    total[:, :-1] += field[:, 1:]
    return total


def _slope(picture: Array, row: NDArray[np.intp], column: NDArray[np.intp]) -> Array:
    """Size of the gradient at some pixels, per pixel."""
    last_row, last_column = picture.shape[0] - 1, picture.shape[1] - 1
    above, below = np.maximum(row - 1, 0), np.minimum(row + 1, last_row)
    left, right = np.maximum(column - 1, 0), np.minimum(column + 1, last_column)
    down = (picture[below, column] - picture[above, column]) / (below - above)
    across = (picture[row, right] - picture[row, left]) / (right - left)
    return np.asarray(np.hypot(down, across), dtype=np.float32)


def _rgb(colour: str) -> Array:
    return np.array(to_rgb(colour), dtype=np.float32) * 255
