"""Pixels of the cutaway: a water field on a graded grid, in the laboratory frame.

Where the section has no water a backdrop shows: plain air, or the half of the scene behind the cut.
The water's edge is the contour of volume fraction 1/2, interpolated linearly between cell centres
and softened over one pixel. Cells inside the solid get the volume fraction of their neighbours, so
that the contour continues under the bowl's wall, which is drawn on top. Closed-off air is tinted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from matplotlib.colors import Colormap, to_rgb
from numpy.typing import NDArray
from scipy.ndimage import label

from sinkbowl_post.style import AIR, CLOSED_AIR, PAPER, SURFACE_LINE

Array = NDArray[np.float32]
Pixels = NDArray[np.uint8]

SOLID_BELOW = 0.05  # open fraction below which a cell's values are ignored
SPREAD_SWEEPS = 3  # cells of extension of the water into the solid, and of its colour into air
EDGE_WIDTH = 3.3  # px, the dark line along the water's edge
TINT = 0.55  # of CLOSED_AIR over the backdrop
LEAST_POCKET = 8  # minimum number of cells of tinted air; less is spray
BAND = 64  # rows painted at once: their arrays stay in the processor's cache
COLOURS = 256  # of the water, from the lower end of its scale to the upper


@dataclass(frozen=True)
class Window:
    """The visible region in the laboratory frame: |r| <= reach, bottom <= z <= top [m]."""

    reach: float
    bottom: float
    top: float
    columns: int
    rows: int

    @property
    def heights(self) -> NDArray[np.float64]:
        """Of the rows of pixels [m], from the top."""
        return np.linspace(self.top, self.bottom, 2 * self.rows + 1)[1::2]


def bracket(
    centres: NDArray[np.floating], at: NDArray[np.floating]
) -> tuple[NDArray[np.intp], NDArray[np.floating]]:
    """Index of the centre below each place and the share of the next; constant beyond the ends."""
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
        """Weights at the places ``at``; constant beyond the end cells."""
        low, share = bracket(centres, at)
        return cls(low, share.astype(np.float32))

    def rows_of(self, field: Array) -> Array:
        """Interpolate along the first axis."""
        lower = np.take(field, self.low, axis=0)
        result: Array = np.take(field, self.low + 1, axis=0)
        result -= lower
        result *= self.share[:, None]
        result += lower
        return result


Backdrop = Callable[[Array, NDArray[np.intp], float], tuple[Pixels, Pixels]]
"""Background where the cut has no water: pictures (rows, columns / 2, 4) right and left of the
axis, each from the axis outwards. It takes the section's volume fraction, 0 outside the tub, and
indices in the palette, (rows, columns / 2) each, and the depth of the bowl's bottom [m]."""


def plain_air(window: Window, tub_radius: float) -> Backdrop:
    """Air, and paper outside the tub, the same on both sides."""
    radii = pixel_radii(window)
    row = np.empty((len(radii), 3), dtype=np.uint8)
    row[:] = rgb(AIR)
    row[radii > tub_radius] = rgb(PAPER)
    pixels = opaque(row)
    return lambda water, colour, draft: (np.broadcast_to(pixels, (*water.shape, 4)),) * 2


class Painter:
    """Paints the water of one result, frame by frame.

    r_f, z_f : faces of the grid [m], bowl frame
    open_fraction : (nr, nz)
    window : visible region, and number of pixels (an even number of columns)
    palette, top_value : colours of the quantity, and its value at their upper end
    backdrop : background behind the cut; None for plain air
    """

    def __init__(
        self,
        r_f: NDArray[np.float64],
        z_f: NDArray[np.float64],
        open_fraction: NDArray[np.float64],
        window: Window,
        palette: Pixels,
        top_value: float,
        backdrop: Backdrop | None = None,
    ) -> None:
        self._window = window
        self._z_c = (z_f[1:] + z_f[:-1]) / 2
        radii = pixel_radii(window)
        self._across = Blend.between((r_f[1:] + r_f[:-1]) / 2, radii)
        self._tub = int(np.searchsorted(radii, r_f[-1], side="right"))  # columns inside it
        self._open = open_fraction >= SOLID_BELOW
        self._palette = _whole(opaque(palette))
        self._top_value = top_value
        self._backdrop = backdrop or plain_air(window, float(r_f[-1]))
        self._band = window.rows if backdrop else BAND

    def paint(self, volume_fraction: Array, quantity: Array, draft: float) -> Pixels:
        """Picture (rows, columns, 4) of one frame, both sides of the axis.

        volume_fraction, quantity : (nr, nz), the quantity in the unit of ``top_value``
        draft : depth of the bowl's bottom [m]
        """
        wet = self._open & (volume_fraction >= 0.5)
        dry = self._open & (volume_fraction < 0.5)
        closed = closed_air(volume_fraction, self._open)
        shades = self._widened(spread(quantity, wet))
        waters = self._widened(spread(volume_fraction, self._open))
        pockets = None
        if closed.any():
            pockets = self._widened(spread(closed.astype(np.float32), dry))
        window, half = self._window, self._window.columns // 2
        picture = np.empty((window.rows, window.columns), dtype=np.uint32)
        for first in range(0, window.rows, self._band):
            low, last = max(first - 1, 0), first + self._band  # the edge needs a row on each side
            down = Blend.between(self._z_c, window.heights[low : last + 1] + draft)
            right, left = self._rows(down, shades, waters, pockets, draft)
            inner = slice(first - low, last - low)
            picture[first:last, half:] = right[inner]
            picture[first:last, :half] = left[inner, ::-1]
        return _parts(picture)

    def _widened(self, field: Array) -> Array:
        """A small field (nr, nz) at all columns, (nz, columns / 2); then whole rows are blended."""
        return np.ascontiguousarray(self._across.rows_of(field).T)

    def _rows(
        self, down: Blend, shades: Array, waters: Array, pockets: Array | None, draft: float
    ) -> tuple[NDArray[np.uint32], NDArray[np.uint32]]:
        """Some rows of the picture, right and left of the axis."""
        shade = down.rows_of(shades)
        shade *= 255 / self._top_value
        colour = np.clip(shade, 0, 255, out=shade).astype(np.intp)
        water = down.rows_of(waters)
        edge = _edge(water)
        water[:, self._tub :] = 0.0
        behind = self._backdrop(water, colour, draft)
        same = behind[1] is behind[0]
        if pockets is not None:
            share = np.float32(TINT) * down.rows_of(pockets)
            behind = (tinted(behind[0], share), behind[1] if same else tinted(behind[1], share))
        right = self._compose(water, colour, edge, behind[0])
        return right, right if same else self._compose(water, colour, edge, behind[1])

    def _compose(
        self, water: Array, colour: NDArray[np.intp], edge: _Edge, behind: Pixels
    ) -> NDArray[np.uint32]:
        back, spots = _whole(behind), edge.spots
        picture = np.where(water > 0.5, self._palette[colour], back)
        painted = _parts(self._palette[colour.take(spots)])
        soft = _soft_edge(edge.distance, painted, _parts(back.take(spots)))
        picture.put(spots, _whole(soft))
        picture[:, self._tub :] = back[:, self._tub :]
        return picture


@dataclass(frozen=True)
class _Edge:
    """Pixels near the water's edge, numbered row by row, and their depth inside the water [px]."""

    spots: NDArray[np.intp]
    distance: Array


def _edge(water: Array) -> _Edge:
    spots = np.flatnonzero((water > 0.01) & (water < 0.99))
    slope: Array = np.maximum(_slope(water, spots), np.float32(1e-3))
    distance: Array = (water.take(spots) - np.float32(0.5)) / slope
    close = np.abs(distance) < EDGE_WIDTH / 2 + 0.5
    return _Edge(spots[close], distance[close])


def _soft_edge(distance: Array, water: Pixels, behind: Pixels) -> Pixels:
    """Pixels (n, 4) at a distance [px] into the water: background, water, the line between."""
    covered = np.clip(distance + 0.5, 0.0, 1.0)[:, None]
    drawn = np.clip((EDGE_WIDTH + 1) / 2 - np.abs(distance), 0.0, 1.0)[:, None]
    colour = behind + covered * (water.astype(np.float32) - behind)
    colour[:, :3] += drawn * (rgb(SURFACE_LINE) - colour[:, :3])
    return np.asarray(colour, dtype=np.uint8)


def closed_air(volume_fraction: Array, open_cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Dry open cells (nr, nz) not connected with the grid's top row."""
    bodies, count = label(open_cells & (volume_fraction < 0.5))
    closed = np.bincount(bodies.ravel(), minlength=count + 1) >= LEAST_POCKET
    closed[np.unique(bodies[:, -1])] = False
    closed[0] = False
    return np.asarray(closed[bodies])


def tinted(picture: Pixels, share: Array) -> Pixels:
    """A picture (rows, columns, 4) with a share (rows, columns) of CLOSED_AIR in each pixel."""
    spots, result = np.flatnonzero(share), picture.copy()
    pixels = result.reshape(-1, 4)
    whole = pixels[spots, :3].astype(np.float32)
    pixels[spots, :3] = whole + share.take(spots)[:, None] * (rgb(CLOSED_AIR) - whole)
    return result


def spread(field: Array, known: NDArray[np.bool_], sweeps: int = SPREAD_SWEEPS) -> Array:
    """Extend a field from known cells by a few cells into the others.

    In each sweep an unknown cell gets the mean of its known neighbours; cells farther away get 0.
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


def _slope(picture: Array, spots: NDArray[np.intp]) -> Array:
    """Size of the gradient at some pixels, per pixel."""
    slopes = []
    for step, place, last in zip(
        (picture.shape[1], 1), np.divmod(spots, picture.shape[1]), picture.shape, strict=True
    ):
        before, after = place > 0, place < last - 1
        rise = picture.take(spots + step * after) - picture.take(spots - step * before)
        slopes.append(rise / (before.astype(np.int8) + after))
    return np.asarray(np.hypot(*slopes), dtype=np.float32)


def pixel_radii(window: Window) -> NDArray[np.float64]:
    """Radii of the columns of pixels right of the axis [m]."""
    half = window.columns // 2
    return (np.arange(half) + 0.5) * window.reach / half


def opaque(picture: Pixels) -> Pixels:
    """A picture (..., 3) with a fourth part of each pixel, 255: it hides what is behind."""
    pixels = np.full((*picture.shape[:-1], 4), 255, dtype=np.uint8)
    pixels[..., :3] = picture
    return pixels


def _whole(pixels: Pixels) -> NDArray[np.uint32]:
    """Pixels (..., 4) as one number each, which is copied at once."""
    return np.asarray(pixels.view(np.uint32)[..., 0])


def _parts(whole: NDArray[np.uint32]) -> Pixels:
    """The four parts of such pixels."""
    return np.asarray(whole[..., None].view(np.uint8))


def palette_of(colours: Colormap) -> Pixels:
    """Colours (COLOURS, 3) of the water."""
    return np.asarray(colours(np.linspace(0, 1, COLOURS))[:, :3] * 255, dtype=np.uint8)


def rgb(colour: str) -> Array:
    """Red, green and blue of a named colour, 0 to 255."""
    return np.array(to_rgb(colour), dtype=np.float32) * 255
