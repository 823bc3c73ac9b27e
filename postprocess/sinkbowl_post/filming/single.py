"""Frames of a film of one run: the cutaway, and beside it the depth against time.

Both halves have the same vertical scale, from the still water surface: the dot on the curve is at
the height of the bowl's bottom, and the rim passes under where its curve is zero.
"""

import numpy as np
from matplotlib.axes import Axes

from sinkbowl.files.result import Result
from sinkbowl.reduced.stages import Stages
from sinkbowl_post.comparing.reasons import result_stages
from sinkbowl_post.filming.captions import (
    TimeShown,
    end_words,
    round_length,
    signed_millimetres,
    write_heading,
    write_scales,
)
from sinkbowl_post.filming.cutaway import Cutaway
from sinkbowl_post.filming.ghost import DASHES, WIDTH, ModelCourse
from sinkbowl_post.filming.picture import Pixels, Window
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.stage import Box, Stage
from sinkbowl_post.filming.view import QUANTITIES, evenly, rim_height, scale_top
from sinkbowl_post.style import (
    BRASS,
    BRASS_EDGE,
    HAIRLINE,
    INK,
    LINES,
    PAPER,
    QUIET_INK,
    house_style,
    time_unit,
)

CUTAWAY = Box(54, 168, 1140, 768)
CURVE = Box(1362, 168, 498, 768)
FOOT = 969  # px from the top, the scales' line
CURVE_POINTS = 800
STAGE_WORDS = ("first water down", "jet submerged")
"""Labels of the ends of stages of the water inside (sinkbowl/reduced/stages.py)."""

WORDS_ROOM = 0.42  # share of the curve's height for these labels


class SingleScene:
    """The stage of a film of one run."""

    def __init__(self, script: Script) -> None:
        self._script = script
        (result,) = script.results
        options, clock = script.options, script.clock
        window = script.view.window(script.results, CUTAWAY.width, CUTAWAY.height)
        top_value = scale_top(script.results, QUANTITIES[options.colour], window)
        with house_style():
            stage = self._stage = Stage()
            self._cut = Cutaway(stage, CUTAWAY, script, 0, window, top_value, named=True)
            write_heading(stage, options.heading or result.title, end_words(result))
            last = float(result.history["t"][-1])
            self._time = TimeShown(stage, last, clock.slowness)
            self._curve = HeightCurve(stage, result, window, script.levels[0])
            right = CUTAWAY.left + CUTAWAY.width
            write_scales(stage, options, window, top_value, right, FOOT)
            stage.freeze()

    def draw(self, instant: int) -> Pixels:
        """Pixels of an instant of the film; see `Stage.draw`."""
        (result,), clock = self._script.results, self._script.clock
        t, k = float(clock.t[instant]), int(clock.frames[0, instant])
        picture = self._cut.show(instant)
        self._time.show(t)
        self._curve.show(t, float(result.frames.draft[k]))
        return self._stage.draw([picture])


class HeightCurve:
    """Heights of rim and bottom against time, with the film's position."""

    def __init__(
        self, stage: Stage, result: Result, window: Window, levels: ModelCourse | None
    ) -> None:
        axes = self._axes = stage.axes(CURVE)
        axes.set_ylim(window.bottom, window.top)
        history, self._rim = result.history, rim_height(result)
        self._factor, unit = time_unit(float(history["t"][-1]))
        some = evenly(len(history["t"]), CURVE_POINTS)
        self._times, self._drafts = history["t"][some] * self._factor, history["draft"][some]
        axes.set_xlim(0, float(self._times[-1]) * 1.04)
        axes.set_xlabel(f"time [{unit}]")
        axes.set_ylabel("height above still water [mm]")
        axes.yaxis.set_major_formatter(lambda z, _: signed_millimetres(z))
        axes.set_yticks(_round_heights(window))
        axes.axhline(0, color=LINES["flow"].colour, linewidth=1.5)
        self._stage_lines(axes, result_stages(result))
        self._still_curves(axes)
        self._moving_curves(stage, axes)
        if levels is not None:
            self._model_curves(stage, axes, levels)
        (self._dots,) = axes.plot([], [], "o", color=INK, markersize=11, clip_on=False)
        stage.moves(self._dots)

    def show(self, t: float, draft: float) -> None:
        """Update to a time [s] and draft [m]."""
        now = t * self._factor
        past = self._times < now
        times, drafts = np.append(self._times[past], now), np.append(self._drafts[past], draft)
        self._past_rim.set_data(times, self._rim - drafts)
        self._past_bottom.set_data(times, -drafts)
        self._link.set_data([0, now], [-draft, -draft])
        self._dots.set_data([now, now], [-draft, self._rim - draft])

    def _still_curves(self, axes: Axes) -> None:
        t, draft, rim = self._times, self._drafts, self._rim
        axes.plot(t, rim - draft, color=BRASS, linewidth=2, alpha=0.45)
        axes.plot(t, -draft, color=INK, linewidth=2, alpha=0.3)
        first = len(t) // 12
        for height, name, colour in ((rim, "rim", BRASS_EDGE), (0.0, "bottom", INK)):
            place = (t[first], height - draft[first])
            label = axes.annotate(name, place, (4, 9), textcoords="offset points", color=colour)
            label.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.5})

    def _stage_lines(self, axes: Axes, stages: Stages | None) -> None:
        """Dotted lines at changes of the stage of the water inside, labelled."""
        low, right = axes.get_ylim()[0], axes.get_xlim()[1]
        for time, words, side in zip(stages or (), STAGE_WORDS, ("right", "left"), strict=False):
            if time is None:
                continue
            at = time * self._factor
            axes.axvline(at, color=QUIET_INK, linewidth=1.4, linestyle=(0, (1.0, 2.0)), zorder=1)
            room = -np.interp(at, self._times, self._drafts) - low
            if room > WORDS_ROOM * (axes.get_ylim()[1] - low) and at > 0.06 * right:
                aside = (-4 if side == "right" else 4, 6)
                name = axes.annotate(words, (at, low), aside, textcoords="offset points")
                name.set(rotation=90, ha=side, va="bottom", size=16, color=QUIET_INK)

    def _model_curves(self, stage: Stage, axes: Axes, levels: ModelCourse) -> None:
        """Rim and bottom of a model, above the run's curves."""
        t, colour = levels.t * self._factor, LINES[levels.model].colour
        for height in (self._rim, 0.0):
            heights = height - levels.draft
            stage.moves(*axes.plot(t, heights, color=colour, linewidth=WIDTH, dashes=DASHES))

    def _moving_curves(self, stage: Stage, axes: Axes) -> None:
        (self._link,) = axes.plot([], [], color=HAIRLINE, linewidth=1.2)
        (self._past_rim,) = axes.plot([], [], color=BRASS, linewidth=4.5)
        (self._past_bottom,) = axes.plot([], [], color=INK, linewidth=4.5)
        stage.moves(self._link, self._past_rim, self._past_bottom)


def _round_heights(window: Window) -> np.ndarray:
    step = round_length((window.top - window.bottom) / 3.5)
    return np.arange(np.ceil(window.bottom / step) * step, window.top, step)
