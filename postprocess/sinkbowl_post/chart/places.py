"""Free space for labels on a panel.

The panel is a raster of small squares; positions are shares of its width and height, from the lower
left corner.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter

Mask = NDArray[np.bool_]
Place = tuple[float, float]

EM, LINE = 0.64, 1.3
"""Width of a bold letter and height of a line, over the type size."""


class Room:
    """Occupied space on a panel.

    Parameters
    ----------
    wide, tall : size of the panel [inches]
    """

    def __init__(self, wide: float, tall: float) -> None:
        self.wide, self.tall = wide, tall
        self.shape = (round(30 * wide), round(30 * tall))
        self.taken = np.zeros(self.shape, dtype=bool)
        self.lines = np.zeros(self.shape, dtype=bool)

    def size(self, text: str, points: float) -> Place:
        """Width and height of a text set in a type size."""
        lines = text.split("\n")
        letter = points / 72.0
        return (
            EM * letter * max(map(len, lines)) / self.wide,
            LINE * letter * len(lines) / self.tall,
        )

    def take(self, place: Place, size: Place) -> None:
        """Reserve a box of a size around a place."""
        self.taken[self._box(place, size)] = True

    def free(self, place: Place, size: Place) -> bool:
        """Whether a box of a size around a place is on the panel and free."""
        inside = all(0.5 * s <= p <= 1.0 - 0.5 * s for p, s in zip(place, size, strict=True))
        return inside and not bool(self.taken[self._box(place, size)].any())

    def draw(self, points: Iterable[Place]) -> None:
        """Mark a line through some places, which labels avoid."""
        for x, y in points:
            if 0.0 <= x < 1.0 and 0.0 <= y < 1.0:
                self.lines[int(x * self.shape[0]), int(y * self.shape[1])] = True

    def first_free(self, places: Iterable[Place], size: Place) -> Place | None:
        """The first of some places that is free for a box, which is then reserved."""
        for place in places:
            if self.free(place, size):
                self.take(place, size)
                return place
        return None

    def inside(self, zone: Mask, size: Place) -> Place | None:
        """Place for a box in a zone of the raster, off lines, near its middle, then reserved."""
        if not zone.any():
            return None
        i, j = np.nonzero(zone)
        middle = ((i.mean() + 0.5) / self.shape[0], (j.mean() + 0.5) / self.shape[1])
        return self.near(middle, size, ~zone)

    def near(self, point: Place, size: Place, off: Mask) -> Place | None:
        """The free place for a box nearest to a point, off lines and a mask, then reserved."""
        cells = [max(1, round(s * n)) for s, n in zip(size, self.shape, strict=True)]
        wanted = ~self.taken & ~self.lines & ~off
        fits = minimum_filter(wanted, size=cells, mode="constant", cval=False)
        if not fits.any():
            return None
        i, j = np.nonzero(fits)
        x, y = (i + 0.5) / self.shape[0], (j + 0.5) / self.shape[1]
        best = int(np.argmin(np.hypot((x - point[0]) * self.wide, (y - point[1]) * self.tall)))
        place = (float(x[best]), float(y[best]))
        self.take(place, size)
        return place

    def _box(self, place: Place, size: Place) -> tuple[slice, slice]:
        ends = []
        for p, s, n in zip(place, size, self.shape, strict=True):
            ends.append(slice(max(0, int((p - 0.5 * s) * n)), max(0, int((p + 0.5 * s) * n) + 1)))
        return ends[0], ends[1]
