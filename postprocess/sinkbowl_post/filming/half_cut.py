"""The half of the scene behind the cut: water and bowl revolved, seen from the front and above.

Parallel rays go down into the picture at the tilt angle. A ray that meets air at the cut continues,
at y behind it, through the section at the radius sqrt(x^2 + y^2), until it meets water or solid. In
two steps of y it descends by one row of pixels, so that a step is a shift of the section. Shading
is Lambert's with a highlight after Blinn (1977); normals are gradients of the smoothed section,
rotated about the axis. Dark lines mark jumps of material or depth.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import uniform_filter

from sinkbowl_post.drawing import Solid
from sinkbowl_post.filming.picture import Array, Blend, Pixels, Window, opaque, rgb
from sinkbowl_post.filming.view import Outline
from sinkbowl_post.style import AIR, STILL_TO_FAST, SURFACE_LINE

FINE = 4  # sub-pixels of the solid's section, in each direction
SMOOTH = 5  # px, averaging width of the section for its normals
LIGHT = (-0.45, -0.45, 0.80)  # towards the lamp: left, in front, above
AMBIENT = np.array((0.55, 0.55, 0.55), dtype=np.float32)
WATER_AMBIENT = np.array((0.47, 0.56, 0.64), dtype=np.float32)  # water's shade is blue
DIFFUSE = 0.60
HIGHLIGHT, SHARPNESS = 60.0, 50
GLAZE, GLAZED = 0.22, STILL_TO_FAST[3]  # of a water surface, to distinguish it from the cut
LINE_STRENGTH = 0.8
JUMP = 18  # steps of depth between neighbouring pixels of separate objects
WATER, SOLID, CUT = 1, 2, 3  # material met by a ray; air is 0


@dataclass(frozen=True)
class _Hits:
    """Pixels whose ray meets water or solid behind the cut.

    row, column : the pixel
    steps : distance behind the cut, in steps of the ray
    at_row, at_column : the pixel of the section met by the ray
    x, y : position across and behind [px]; their hypotenuse is the radius
    """

    row: NDArray[np.intp]
    column: NDArray[np.intp]
    steps: NDArray[np.int16]
    at_row: NDArray[np.intp]
    at_column: NDArray[np.intp]
    x: NDArray[np.floating]
    y: NDArray[np.floating]


class HalfCut:
    """Backdrop of a tilted view.

    window : visible region; its rows are farther apart in a steeper view
    palette : colours of the water
    solids : of bowl and ballast, bowl frame [m]
    tilt : [rad]
    """

    def __init__(
        self, window: Window, palette: Pixels, solids: Sequence[Solid], tilt: float
    ) -> None:
        self._window, self._palette = window, palette
        self._across, self._down = np.sin(tilt), np.cos(tilt)
        self._half = window.columns // 2
        self._stride = 0.5 / self._across  # px in y
        outlines = [solid.outline for solid in solids]
        self._solid_z, self._solid, self._whose = _covered(
            outlines, window.reach / self._half, window
        )
        self._faces = np.array([rgb(solid.colours[0]) for solid in solids])

    def __call__(
        self, water: Array, colour: NDArray[np.intp], draft: float
    ) -> tuple[Pixels, Pixels]:
        """Pictures right and left of the axis; see `Backdrop`."""
        solid = self._solid_section(draft)
        taken = (water > 0.5) | (solid > 0.5)
        hits = self._march(taken)
        met = np.where(solid[hits.at_row, hits.at_column] > 0.5, SOLID, WATER)
        normals = self._normals(hits, met, water, solid)
        lit, shade = self._colours(hits, met, colour, draft)
        lines = self._lines(hits, met, taken)
        right, left = (self._picture(hits, lit, shade, normals, lines, side) for side in (1, -1))
        return right, left

    def _solid_section(self, draft: float) -> Array:
        """Share of solid (rows, columns / 2) in the section's pixels."""
        return Blend.between(self._solid_z, self._window.heights + draft).rows_of(self._solid)

    def _march(self, taken: NDArray[np.bool_]) -> _Hits:
        rows, half = taken.shape
        columns = np.zeros((half + 1, rows), dtype=bool)  # the last: outside the visible region
        columns[:half] = taken.T
        open_rows = np.flatnonzero(~taken.all(axis=1))
        depth = int(open_rows[-1]) + 1 if open_rows.size else 0
        met = columns[:half, :depth].copy()
        at_cut = met.copy()
        steps = np.zeros(met.shape, dtype=np.int16)
        x = np.arange(half) + 0.5
        for step in range(1, 2 * min(rows, int(half * self._across) + 2)):
            steps += ~met
            radius = np.hypot(x, step * self._stride)
            sunk = (step + 1) // 2
            reached = min(depth, rows - sunk)
            section = columns[:, sunk : sunk + reached]
            met[:, :reached] |= section[np.minimum(radius.astype(np.intp), half)]
        column, row = np.nonzero(met & ~at_cut)
        count = steps[column, row]
        x, y = column + 0.5, count * self._stride
        at_column = np.minimum(np.hypot(x, y).astype(np.intp), half - 1)
        return _Hits(row, column, count, row + (count + 1) // 2, at_column, x, y)

    def _normals(self, hits: _Hits, met: NDArray[np.intp], water: Array, solid: Array) -> Array:
        """Unit normals (n, 3), outwards: to the right, behind, up."""
        before = np.hypot(hits.x, hits.y - self._stride).astype(np.intp)  # just outside
        at = (hits.at_row, np.minimum(before, self._half - 1))
        slopes = [_slopes(_smooth(section), *at) for section in (water, solid)]
        out, up = (np.where(met == SOLID, slopes[1][k], slopes[0][k]) for k in (0, 1))
        radius = np.hypot(hits.x, hits.y)
        normals = np.stack([out * hits.x / radius, out * hits.y / radius, up * self._down], axis=1)
        length = np.linalg.norm(normals, axis=1, keepdims=True)
        return np.asarray(normals / np.maximum(length, 1e-9), dtype=np.float32)

    def _colours(
        self, hits: _Hits, met: NDArray[np.intp], colour: NDArray[np.intp], draft: float
    ) -> tuple[Array, Array]:
        """Diffuse light (n, 3), and ambient light."""
        solid = (met == SOLID)[:, None]
        water = self._palette[colour[hits.at_row, hits.at_column]] * np.float32(1 - GLAZE)
        window, z = self._window, self._solid_z
        height = window.top - (hits.at_row + 0.5) * (window.top - window.bottom) / window.rows
        row = np.rint((height + draft - z[0]) / (z[1] - z[0])).astype(np.intp)
        whose = self._whose[np.clip(row, 0, len(z) - 1), hits.at_column]
        plain = np.where(solid, self._faces[whose], water + GLAZE * rgb(GLAZED))
        shade = np.where(solid, AMBIENT, WATER_AMBIENT)
        return plain * np.float32(DIFFUSE), plain * shade

    def _picture(
        self, hits: _Hits, lit: Array, shade: Array, normals: Array, lines: Array, side: int
    ) -> Pixels:
        """One side of the axis: the lamp is left of both."""
        lamp = np.array(LIGHT) * (side, 1, 1) / np.linalg.norm(LIGHT)
        eye = np.array([0.0, -self._down, self._across])
        middle = (lamp + eye) / np.linalg.norm(lamp + eye)
        facing, mirroring = (
            np.clip(normals @ way.astype(np.float32), 0.0, 1.0)[:, None] for way in (lamp, middle)
        )
        colour = shade + lit * facing + HIGHLIGHT * mirroring**SHARPNESS
        picture = np.empty((*lines.shape, 3), dtype=np.float32)
        picture[:] = rgb(AIR)
        picture[hits.row, hits.column] = np.clip(colour, 0, 255)
        row, column = np.nonzero(lines)
        drawn = lines[row, column, None]
        picture[row, column] += drawn * (rgb(SURFACE_LINE) - picture[row, column])
        return opaque(picture.astype(np.uint8))

    def _lines(self, hits: _Hits, met: NDArray[np.intp], taken: NDArray[np.bool_]) -> Array:
        """Darkness of the lines, 0 to 1, at each pixel."""
        kind = np.where(taken, CUT, 0).astype(np.int16)
        kind[hits.row, hits.column] = met
        steps = np.zeros(taken.shape, dtype=np.int16)
        steps[hits.row, hits.column] = hits.steps
        sharp = np.zeros(taken.shape, dtype=np.float32)
        for one, other in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
            both = (kind[one] > 0) & (kind[other] > 0)
            jump = both & (np.abs(steps[one] - steps[other]) > JUMP)
            apart = (kind[one] != kind[other]) | jump
            sharp[one] += apart
            sharp[other] += apart
        return np.asarray(uniform_filter(np.minimum(sharp, 1.0), 3) * LINE_STRENGTH)


def _covered(
    solids: Sequence[Outline], pixel: float, window: Window
) -> tuple[NDArray[np.float64], Array, NDArray[np.uint8]]:
    """Heights (n,) in the bowl frame [m], and the solid share of each pixel (n, columns / 2).

    Also the outline of each pixel.
    """
    row = (window.top - window.bottom) / window.rows
    every = np.concatenate(solids)
    low, high = every[:, 1].min() - 2 * row, every[:, 1].max() + 2 * row
    rows, half = int(np.ceil((high - low) / row)), window.columns // 2
    canvas = Image.new("L", (half * FINE, rows * FINE))
    owners = Image.new("L", (half, rows))
    for place, outline in enumerate(solids):
        places = (outline - (0.0, low)) / (pixel, row) * FINE
        ImageDraw.Draw(canvas).polygon([(float(x), float(y)) for x, y in places], fill=255)
        corners = [(float(x), float(y)) for x, y in places / FINE]
        ImageDraw.Draw(owners).polygon(corners, fill=place, outline=place)
    shares: Array = np.asarray(canvas.reduce(FINE), dtype=np.float32) / np.float32(255)
    shares[[0, -1]] = 0.0  # nothing above and below
    return low + (np.arange(rows) + 0.5) * row, shares, np.asarray(owners)


def _smooth(section: Array) -> Array:
    twice = uniform_filter(uniform_filter(section, SMOOTH, mode="nearest"), SMOOTH, mode="nearest")
    return np.asarray(twice)


def _slopes(section: Array, row: NDArray[np.intp], column: NDArray[np.intp]) -> tuple[Array, Array]:
    """Decrease of a section's share outwards and upwards at some pixels."""
    rows, columns = section.shape
    above, below = np.maximum(row - 1, 0), np.minimum(row + 1, rows - 1)
    inner, outer = np.maximum(column - 1, 0), np.minimum(column + 1, columns - 1)
    out: Array = section[row, inner] - section[row, outer]
    up: Array = section[below, column] - section[above, column]
    return out, up
