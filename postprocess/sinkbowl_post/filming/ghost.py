"""Levels of a reduced model in the film: inner level and bottom of the bowl."""

from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patheffects import Normal, Stroke
from matplotlib.text import Text
from numpy.typing import NDArray

from sinkbowl.files.result import Result
from sinkbowl_post.drawing import spread
from sinkbowl_post.filming.picture import Window
from sinkbowl_post.filming.stage import DPI, Box, Stage
from sinkbowl_post.style import LINES, PAPER

WIDTH = 2.0  # pt
DASHES = (4.5, 2.0)
TYPE = 16.0  # pt
NAMES = ("bottom", "inside")  # the two lines, the lower one first


@dataclass(frozen=True, eq=False)
class ModelCourse:
    """History of a reduced model, (n,) each: time [s], draft [m] and head [m].

    sinks: whether the bowl has sunk at its end, without levels afterwards
    """

    model: str
    t: NDArray[np.float64]
    draft: NDArray[np.float64]
    head: NDArray[np.float64]
    sinks: bool

    def at(self, t: float) -> tuple[float, float] | None:
        """Heights [m] above still water of the bowl's bottom and of the inner level at a time [s].

        In all reduced models the outer level is still, and the inner one is lower by the head.
        After the end a bowl at rest stays there; for one that sank there are no levels.
        """
        if self.sinks and t > self.t[-1]:
            return None
        bottom, inside = (-np.interp(t, self.t, height) for height in (self.draft, self.head))
        return float(bottom), float(inside)


def levels_of(result: Result, model: str) -> ModelCourse:
    """Solve a reduced model for a run's case; ResultError if that cannot be read."""
    from sinkbowl.reduced import MODELS  # heavy, and not needed by processes that only draw

    sinking = MODELS[model](result.case)
    sinks = sinking.sinking_time is not None
    return ModelCourse(model, sinking.t, sinking.draft, sinking.head, sinks)


class Ghost:
    """The dashed lines of a model in a cutaway, labelled if there is room."""

    def __init__(
        self, axes: Axes, levels: ModelCourse, radius: float, named: Window | None
    ) -> None:
        """Lines over a bowl's radius [m]; ``named`` is a window with room for labels."""
        self._levels = levels
        ends = (-1.08 * radius, 1.08 * radius)
        self._lines = [ghost_line(axes, ends, (0.0, 0.0), levels.model) for _ in NAMES]
        self._gap = 0.0
        self._names: list[Text] = []
        if named is not None:
            height = (named.top - named.bottom) / named.rows
            self._gap = 1.45 * TYPE * DPI / 72 * height
            box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.88, "pad": 3.0}
            colour = LINES[levels.model].colour
            self._names = [
                axes.text(1.13 * radius, 0.0, name, size=TYPE, va="center", bbox=box, color=colour)
                for name in NAMES
            ]

    @property
    def artists(self) -> list[Artist]:
        """The artists that change from frame to frame."""
        return [*self._lines, *self._names]

    def move(self, t: float) -> None:
        """Update to a time [s]; invisible after the model's end."""
        heights = self._levels.at(t)
        for artist in self.artists:
            artist.set_visible(heights is not None)
        if heights is None:
            return
        for line, height in zip(self._lines, heights, strict=True):
            line.set_ydata([height, height])
        for text, place in zip(self._names, spread(heights, self._gap), strict=False):
            text.set_y(place)


def ghost_line(axes: Axes, x: object, y: object, model: str) -> Line2D:
    """A thin dashed line in the model's colour on a paper band, visible on any background."""
    (line,) = axes.plot(x, y, color=LINES[model].colour, linewidth=WIDTH, dashes=DASHES)  # type: ignore[arg-type]
    line.set_path_effects([Stroke(linewidth=WIDTH + 1.8, foreground=PAPER), Normal()])
    return line


def write_model_key(stage: Stage, left: int, top: int, model: str) -> None:
    """Write the key of the dashed lines at a position in px."""
    axes = stage.axes(Box(left, top, 62, 30))
    axes.set_axis_off()
    ghost_line(axes, (0.0, 1.0), (0.5, 0.5), model)
    axes.set_ylim(0.0, 1.0)
    stage.write(left + 74, top + 14, LINES[model].name, va="center", size=TYPE)
