"""The canvas of a film: static parts are drawn once, a frame adds the moving parts."""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from sinkbowl.common.shown import for_figure
from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.style import show_plainly

SIZE = (1920, 1080)  # px
DPI = 144


class Box(NamedTuple):
    """A rectangle on the canvas [px], counted from its upper left corner."""

    left: int
    top: int
    width: int
    height: int


class Stage:
    """A figure of the film's size, to be used in the house style."""

    def __init__(self) -> None:
        self.figure = Figure(figsize=(SIZE[0] / DPI, SIZE[1] / DPI), dpi=DPI)
        self._canvas = FigureCanvasAgg(self.figure)
        self._moving: list[Artist] = []

    def axes(self, box: Box) -> Axes:
        """Axes that fill a box."""
        left, top, width, height = box
        across, up = SIZE
        return self.figure.add_axes(
            (left / across, 1 - (top + height) / up, width / across, height / up)
        )

    def write(self, x: float, y: float, text: str, **style: object) -> Text:
        """Text at a position in px from the upper left corner; its upper edge is there."""
        style.setdefault("va", "top")
        words = for_figure(text)
        return self.figure.text(x / SIZE[0], 1 - y / SIZE[1], words, **style)  # type: ignore[arg-type]

    def moves(self, *artists: Artist) -> None:
        """Redraw these artists in each frame, in this order."""
        for artist in artists:
            artist.set_animated(True)
        self._moving += artists

    def freeze(self) -> None:
        """Draw the static parts."""
        show_plainly(self.figure)
        self._renderer = self._canvas.get_renderer()  # type: ignore[no-untyped-call]
        self.figure.draw(self._renderer)
        self._pixels: Pixels = np.asarray(self._renderer.buffer_rgba())
        self._still = self._pixels.copy()

    def draw(self, pictures: Iterable[tuple[Box, Pixels]]) -> Pixels:
        """Pixels (1080, 1920, 4) of a frame; the array is reused for the next one.

        pictures : pixels (height, width, 4) with their box, below the moving parts
        """
        self._pixels[:] = self._still
        for (left, top, width, height), picture in pictures:
            self._pixels[top : top + height, left : left + width] = picture
        for artist in self._moving:
            artist.draw(self._renderer)
        return self._pixels
