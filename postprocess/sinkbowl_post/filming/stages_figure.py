"""Slide of the stages of the water in a bowl: a cutaway of each, with its time."""

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result
from sinkbowl.reduced import heave
from sinkbowl.reduced.stages import NAMES, Stages, stages_of_heave
from sinkbowl.scatter.interval import time_text
from sinkbowl_post.comparing.reasons import result_stages
from sinkbowl_post.drawing import WORDS, draw_solids, result_solids, slide, write_inside
from sinkbowl_post.filming.picture import Window
from sinkbowl_post.filming.view import QUANTITIES, painter_of, scale_top
from sinkbowl_post.style import INK, QUIET_INK, seconds

WORDS_OF = (
    "The jet's water is in the air:\nnothing stands against the jet.",
    "Water is down around the jet\nand runs in to the hole.",
    "The jet's foot is under water:\nall of it presses on the jet.",
)
"""Explanation of each stage."""

PANEL = (0.295, 0.51)  # width and height of a cutaway, shares of the slide's

PIXELS = (800, 778)
SIDE, BELOW = 1.32, 0.3  # visible region: radii to each side, and below the deepest bowl
LATE = 0.7  # share of the first stage at which it is shown: the bell is complete


def stages_figure(result: Result) -> Figure:
    """Draw the stages that a run reaches before its rim is under, on one slide.

    Raises ResultError for no frames, or no stages in its history.
    """
    stages, time = result_stages(result), result.sinking_time
    if stages is None or stages.landed is None or time is None or len(result.frames) == 0:
        raise ResultError(
            f"{result.path}: has no stages to show: it needs frames, a rim that goes under, and a "
            "hole that the grid resolves, through which a jet rises that comes down."
        )
    model = stages_of_heave(result.case, heave.solve(result.case)) or Stages(None, None)
    ends = [0.0, stages.landed, min(stages.submerged or time, time), time]
    words = f"coloured by the water's speed; rim under after {time_text(time, result.interval)}"
    if ends[2] == time:
        words += ", before the jet is submerged"
    with slide(f"Stages: {result.title}", words, result.title) as figure:
        left = 0.03
        for k, (begin, end) in enumerate(pairwise(ends)):
            if not end > begin:
                continue
            moment = LATE * end if k == 0 else 0.5 * (begin + end)
            _cutaway(figure.add_axes((left, 0.305, *PANEL)), result, moment)
            own, by_heave = (begin, model[k - 1]) if k else (end, model[0])
            when = f"{'from' if k else 'until'} {seconds(own, time)}"
            if by_heave is not None:
                when += f" (heave: {seconds(by_heave, time)})"
            figure.text(left, 0.275, NAMES[k], va="top", size=20, weight="bold")
            figure.text(left, 0.225, when, va="top", size=WORDS)
            figure.text(left, 0.18, WORDS_OF[k], va="top", size=WORDS, color=QUIET_INK)
            left += PANEL[0] + 0.0275
    return figure


def _cutaway(axes: Axes, result: Result, time: float) -> None:
    """Water and solids in the frame nearest to a time [s]."""
    frames, solids = result.frames, result_solids(result)
    radius = max(float(solid.outline[:, 0].max()) for solid in solids)
    height = max(float(solid.outline[:, 1].max()) for solid in solids)
    columns, rows = PIXELS
    reach, bottom = SIDE * radius, -height - BELOW * radius
    window = Window(reach, bottom, bottom + 2.0 * reach * rows / columns, columns, rows)
    k = int(np.argmin(np.abs(frames.t - time)))
    top = scale_top([result], QUANTITIES["speed"], window)
    picture = painter_of(result, "speed", window, top)(k)
    axes.imshow(picture, extent=(-reach, reach, window.bottom, window.top), aspect="auto")
    axes.plot([-reach, reach], [0.0, 0.0], color=INK, lw=1.2, dashes=(6, 5), alpha=0.5)
    draw_solids(axes, solids, float(frames.draft[k]))
    axes.set_xlim(-reach, reach)
    axes.set_ylim(window.bottom, window.top)
    axes.set_axis_off()
    when = seconds(float(frames.t[k]), result.sinking_time)
    write_inside(axes, 0.985, 1.035, when, ha="right")
