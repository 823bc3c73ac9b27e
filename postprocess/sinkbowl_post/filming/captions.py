"""Captions of a film: scales of colours and lengths, clock, playback speed."""

import numpy as np
from matplotlib.colors import Normalize
from matplotlib.patches import Rectangle

from sinkbowl.common.shown import one_line
from sinkbowl.common.sinking import closed_air_words
from sinkbowl.files.result import Result
from sinkbowl.scatter.interval import time_text
from sinkbowl_post.filming.ghost import write_model_key
from sinkbowl_post.filming.picture import Window
from sinkbowl_post.filming.script import FilmOptions
from sinkbowl_post.filming.stage import DPI, SIZE, Box, Stage
from sinkbowl_post.filming.view import QUANTITIES
from sinkbowl_post.style import INK, QUIET_INK, time_unit, title_size, water_map

LEFT, RIGHT = 54, 1860  # px, of all that is written
TITLE, SUBTITLE = 49, 113  # px from the top


class TimeShown:
    """The clock in the upper right corner, with the playback speed below."""

    def __init__(self, stage: Stage, last: float, slowness: float) -> None:
        self._factor, self._unit = time_unit(last)
        self._decimals = 0 if self._unit == "ms" else 3 if last < 1 else 2
        self._text = stage.write(RIGHT, TITLE, "", size=25, weight="bold", ha="right")
        stage.moves(self._text)
        pace = pace_words(slowness)
        stage.write(RIGHT, SUBTITLE, pace, size=17, color=QUIET_INK, ha="right")

    def show(self, t: float) -> None:
        """A time [s]."""
        self._text.set_text(f"{t * self._factor:.{self._decimals}f} {self._unit}")


def pace_words(slowness: float) -> str:
    """Playback speed in words."""
    if 0.95 < slowness < 1.05:
        return "in real time"
    if slowness > 1:
        return f"slowed down {slowness:.2g} times"
    return f"sped up {1 / slowness:.2g} times"


def end_words(result: Result, longest: float | None = None) -> str:
    """End or state of the run, with closed-off air or else the number of releases.

    longest : of several runs' times side by side [s]: without those additions
    """
    room = longest is None
    air = closed_air_words(result.closed_air, result.sinking_time) if room else ""
    air = f"; {air} (tinted)" if air else ""
    if result.sinking_time is None:
        return f"{result.outcome or result.status}{air}"
    of_many = f", mean of {result.members}" if room and result.members > 1 and not air else ""
    time = time_text(result.sinking_time, result.interval, longest)
    return f"rim under after {time}{of_many}{air}"


def write_heading(stage: Stage, heading: str, phrase: str) -> None:
    """The film's heading, and a quieter line under it."""
    heading = one_line(heading)
    size = title_size(heading, 0.75 * SIZE[0] / DPI)
    stage.write(LEFT, TITLE, heading, size=size, weight="bold")
    stage.write(LEFT, SUBTITLE, phrase, size=17, color=QUIET_INK)


def write_scales(
    stage: Stage, options: FilmOptions, window: Window, top_value: float, right: int, top: int
) -> None:
    """A line with the scale of the colours, the model whose levels are dashed, and a round length.

    right, top: where it ends, and its place from the top [px].
    """
    if QUANTITIES[options.colour].label:
        _write_colour_bar(stage, top, options.colour, top_value)
    _write_scale_bar(stage, window, right, top + 8)
    if options.model is not None:
        write_model_key(stage, 770, top, options.model)


def _write_colour_bar(stage: Stage, top: int, colour: str, top_value: float) -> None:
    axes = stage.axes(Box(384, top, 352, 30))
    ramp = np.linspace(0, top_value, 256)
    shades = Normalize(0, top_value)(ramp)[None, :-1]
    axes.pcolormesh(ramp, [0, 1], shades, cmap=water_map(colour), rasterized=True)
    axes.set_yticks([])
    axes.set_xticks(np.linspace(0, top_value, 3))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:.3g}")
    axes.tick_params(length=0, pad=4)
    axes.spines[:].set_visible(False)
    stage.write(LEFT, top + 14, QUANTITIES[colour].label, va="center")


def _write_scale_bar(stage: Stage, window: Window, right: int, top: int) -> None:
    """A bar of a round length; its right end and distance from the top in px."""
    length = round_length(window.reach / 4)
    wide = length / (2 * window.reach) * window.columns
    bar = Rectangle(
        ((right - wide) / SIZE[0], 1 - (top + 8) / SIZE[1]), wide / SIZE[0], 8 / SIZE[1], color=INK
    )
    stage.figure.add_artist(bar)
    stage.write(right, top + 22, f"{length * 1e3:g} mm", ha="right")


def round_length(most: float) -> float:
    """The largest 1, 2 or 5 times a power of ten that is not above ``most``."""
    power = 10.0 ** np.floor(np.log10(most))
    return float(max(m * power for m in (1, 2, 5) if m * power <= most))


def signed_millimetres(z: float) -> str:
    """A height [m] in mm with its sign: '+20', '0', '−40'."""
    text = f"{z * 1e3:+.0f}"
    return "0" if text in ("+0", "-0") else text.replace("-", "−")
