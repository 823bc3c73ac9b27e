"""Labels of a chart, placed where there is room.

The panel is a raster of small squares; positions are shares of its width and height, from the lower
left corner.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.style import INK, LINES, PAPER, QUIET_INK

Mask = NDArray[np.bool_]
Place = tuple[float, float]

SIZE = 16.0  # type size [pt]
DOT: Place = (0.016, 0.03)  # space of a mark, shares of the panel
GAP: Place = (0.006, 0.012)  # gap between a mark and its label, shares of the panel

TIPPING = LINES["heave"].colour

ZONE_WORDS: Mapping[str, tuple[str, ...]] = {
    "tips": ("tips while it fills", "tips while\nit fills", "tips"),
    "heels": ("heels while it fills", "heels while\nit fills", "heels"),
    "floats": ("floats: too light to go under", "floats"),
    "under": ("goes under at once: too heavy to float", "under at once"),
    "plugged": (
        "plugged: surface tension keeps it shut,\ntimes are for a start by a push",
        "plugged: surface\ntension keeps\nit shut",
        "plugged",
    ),
    "falls freely": (
        "falls freely: use the flow solver",
        "falls freely: use\nthe flow solver",
        "falls freely:\nuse the flow\nsolver",
        "falls freely",
    ),
}
"""Labels of each zone: the first text that fits is used."""

NO_ROOM = ("there is no room for a heavier ring", "no room")


EM, LINE = 0.64, 1.3  # width of a bold letter and height of a line, over the type size


class Room:
    """Occupied space on a panel.

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
        fits = ~self.taken & ~self.lines & ~off
        for axis, wide in enumerate(cells):  # where all of the box's places are free
            pad = [(0, 0), (0, 0)]
            pad[axis] = (wide // 2, wide - 1 - wide // 2)
            fits = np.asarray(sliding_window_view(np.pad(fits, pad), wide, axis).all(axis=-1))
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


class Names:
    """Writes labels into a panel with fixed limits.

    axes : the panel
    size : its width and height [inches]
    """

    def __init__(self, axes: Axes, size: Place) -> None:
        self.axes, self.room = axes, Room(*size)

    def keep_clear(self, marks: Sequence[Place]) -> None:
        """Reserve the space of marks at holes [m] and loads [kg]."""
        for mark in marks:
            self.room.take(self._place(mark), DOT)

    def beside(self, mark: Place, text: str, colour: str, bold: bool = False) -> None:
        """Write beside a mark: below, above, right or left; nothing if there is no room."""
        x, y = self._place(mark)
        self.room.take((x, y), DOT)
        wide, tall = self.room.size(text, SIZE)
        aside, off = 0.5 * (wide + DOT[0]) + GAP[0], 0.5 * (tall + DOT[1]) + GAP[1]
        near = [(x, y - off), (x, y + off), (x + aside, y), (x - aside, y)]
        corners = [(x + i * aside, y + j * off) for i in (1, -1) for j in (1, -1)]
        if bold:
            near = corners + near
        further = [(x, y - off - tall), (x, y + off + tall)]
        place = self.room.first_free([*near, *corners, *further], (wide, tall))
        if place is not None:
            self._write(place, text, colour, bold)

    def on_lines(self, lines: Mapping[float, Sequence[FloatArray]], colour: str) -> None:
        """Write the time [s] of each line on it, as near its middle as possible."""
        for time, pieces in lines.items():
            text = brief(time)
            size = self.room.size(text, SIZE)
            longest = max(pieces, key=len, default=np.zeros((0, 2)))
            if len(longest) == 0:
                continue
            points = [self._place((1e-3 * x, 1e-3 * y)) for x, y in longest]
            self.room.draw(points)
            middle = len(points) // 2
            order = sorted(range(len(points)), key=lambda k, m=middle: abs(k - m))  # type: ignore[misc]
            place = self.room.first_free([points[k] for k in order], size)
            if place is not None:
                self._write(place, text, colour, bold=True)

    def raster(self) -> tuple[FloatArray, FloatArray]:
        """Holes [m] and loads [kg] of the raster for the labels of zones."""
        shares = [(np.arange(n) + 0.5) / n for n in self.room.shape]
        (x0, x1), (y0, y1) = self.axes.get_xlim(), self.axes.get_ylim()
        return 1e-3 * x0 * (x1 / x0) ** shares[0], 1e-3 * (y0 + shares[1] * (y1 - y0))

    def in_zones(self, zones: Mapping[str, Mask], under_above: bool) -> None:
        """Label the zones inside, vertically if narrow, else with a leader."""
        small: list[tuple[str, str]] = []
        for name, words in ZONE_WORDS.items():
            texts = NO_ROOM if name == "under" and not under_above else words
            if not any(self._fit(zones[name], text, name) for text in texts):
                small.append((name, texts[-1]))
        for name, text in small:
            self._lead(zones, name, text)

    def _fit(self, zone: Mask, text: str, name: str) -> bool:
        """Write a text into a zone, horizontally or vertically; whether there was room."""
        colour = TIPPING if name == "tips" else QUIET_INK
        wide, tall = self.room.size(text, SIZE)
        aspect = self.room.tall / self.room.wide
        for size, rotation in (((wide, tall), 0.0), ((tall * aspect, wide / aspect), 90.0)):
            place = self.room.inside(zone, size)
            if place is not None:
                self._write(place, text, colour, bold=True, rotation=rotation)
                return True
        return False

    def _lead(self, zones: Mapping[str, Mask], name: str, text: str) -> None:
        """Label a zone that is too small or full from outside; nothing if there is no room."""
        zone = zones[name]
        if not zone.any():
            return
        seen = zone & ~self.room.taken
        i, j = np.nonzero(seen if seen.any() else zone)
        middle = int(np.argmin(np.hypot(i - i.mean(), j - j.mean())))
        inside = ((i[middle] + 0.5) / zone.shape[0], (j[middle] + 0.5) / zone.shape[1])
        around = [np.pad(other, 1) for other in zones.values()]
        borders = np.any([(one & grown(~one))[1:-1, 1:-1] for one in around], axis=0)
        wide, tall = self.room.size(text, SIZE)
        room = (wide + 2.0 * DOT[0], tall + 2.0 * DOT[1])
        place = self.room.near(inside, room, zone | borders)
        if place is None:
            return
        colour = TIPPING if name == "tips" else INK
        style: dict[str, Any] = {"color": colour, "linewidth": 1.2, "zorder": 6.5}
        ends = np.array([place, inside]).T
        self.axes.plot(*ends, transform=self.axes.transAxes, **style)
        self.axes.plot(*inside, "o", ms=4, transform=self.axes.transAxes, **style)
        self._write(place, text, colour, bold=True)

    def _write(
        self, place: Place, text: str, colour: str, bold: bool, rotation: float = 0.0
    ) -> None:
        note = self.axes.text(
            *place,
            text,
            transform=self.axes.transAxes,
            color=colour,
            size=SIZE,
            rotation=rotation,
            ha="center",
            va="center",
            zorder=7,
        )
        note.set_fontweight("bold" if bold else "normal")
        if colour != QUIET_INK:
            note.set_bbox({"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1})

    def _place(self, mark: Place) -> Place:
        """Share of the panel at a hole [m] and a load [kg]."""
        (x0, x1), (y0, y1) = self.axes.get_xlim(), self.axes.get_ylim()
        across = float(np.log(1e3 * mark[0] / x0) / np.log(x1 / x0))
        return across, (1e3 * mark[1] - y0) / (y1 - y0)


def grown(mask: Mask) -> Mask:
    """A mask (n, k) with the four neighbours of its places."""
    wider = mask.copy()
    for one, other in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
        wider[one] |= mask[other]
        wider[other] |= mask[one]
    return wider


def brief(time: float) -> str:
    """A round time [s] in words: '0.5 s', '2 min', '1 h'."""
    for unit, name in ((3600.0, "h"), (60.0, "min")):
        if time >= unit:
            return f"{time / unit:.3g} {name}"
    return f"{time:.3g} s"
