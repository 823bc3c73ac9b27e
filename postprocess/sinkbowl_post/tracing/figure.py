"""Figures of tracing: a still to read marks from; the line stacked over time, with the edge."""

from __future__ import annotations

from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sinkbowl.common import QUANTILE
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import seconds, seconds_with
from sinkbowl_post.drawing import slide
from sinkbowl_post.style import INK, PAPER, QUIET_INK, STILL_TO_FAST, house_style, title
from sinkbowl_post.tracing.clip import opened

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sinkbowl_post.tracing.trace import ClipTrace

EDGE = "#E4572E"
NAME_RED = "#A61E3C"
WATER = "#55B0D3"
BESIDE = 0.08  # margins in time, as a share of the sinking
NAMED_AT = 0.3  # position of the edge's name, as a share of the frames
LONGEST_SIDE, LEAST_SIDE = 11.0, 6.0  # inches, of the still
MARGINS = (1.1, 0.9, 0.3, 1.3)  # inches: left, foot, right, head

NEXT = """Read pixels from the still and give them, x from the left and y from the top:

  --line "x,y:x,y"            over the rim, from the background down to below the water
  --length "x,y:x,y = 60 mm"  two points whose distance you know, at the bowl, as near
                              to the line as can be
  --water y                   where still water meets the line
  --rim-height "60 mm"        the bowl's height, from base to rim
  --fps 240                   only if the clip plays more slowly than it was filmed"""


def trace_figure(trace: ClipTrace) -> Figure:
    """Time across, height above the water up, the camera's grey, the edge in colour."""
    course = trace.course
    seen = int(np.count_nonzero(course.seen))
    clip = trace.streak.clip.path.name
    phrase = f"The rim's edge, found in {seen} of {len(course.t)} frames of {clip}"
    with slide(_heading(trace), phrase, clip) as figure:
        axes = figure.add_axes((0.09, 0.12, 0.88, 0.70))
        _show_streak(axes, trace)
        _show_edge(axes, trace)
        axes.set(xlabel="time since release [s]", ylabel="height over still water [mm]")
    return figure


def _heading(trace: ClipTrace) -> str:
    course = trace.course
    if course.under is not None and course.under_uncertainty is not None:
        half = QUANTILE * course.under_uncertainty
        return f"The rim is under after {seconds_with(course.under, half)}"
    return f"The rim can be followed for {seconds(course.lost or float(course.t[-1]))}"


def _show_streak(axes: Axes, trace: ClipTrace) -> None:
    course, marks, grey = trace.course, trace.streak.marks, trace.streak.grey
    n, m = grey.shape
    pixel, rate = marks.scale * 1e3, course.rate
    left, right = (np.array([-0.5, m - 0.5]) - course.released) / rate
    top, foot = (marks.water + 0.5) * pixel, (marks.water - n + 0.5) * pixel
    axes.imshow(
        grey,
        cmap="gray",
        vmin=0.0,
        vmax=255.0,
        extent=(float(left), float(right), float(foot), float(top)),
        aspect="auto",
        interpolation="nearest",
    )
    end = course.under or float(course.t[-1])
    margin, rim = BESIDE * end, float(marks.water - course.place[0]) * pixel
    axes.set_xlim(max(float(left), -margin), min(float(right), end + margin))
    axes.set_ylim(max(float(foot), -0.18 * rim), min(float(top), 1.25 * rim))


def _show_edge(axes: Axes, trace: ClipTrace) -> None:
    from matplotlib.patheffects import withStroke

    course, marks = trace.course, trace.streak.marks
    height = (marks.water - course.place) * marks.scale * 1e3
    off = QUANTILE * course.draft_uncertainty * 1e3
    axes.fill_between(course.t, height - off, height + off, color=EDGE, alpha=0.35, linewidth=0)
    axes.plot(course.t, np.where(course.seen, height, np.nan), color=EDGE, linewidth=2.5)
    hidden = ~course.seen
    beside = hidden | np.roll(hidden, 1) | np.roll(hidden, -1)
    bridge = np.where(beside, height, np.nan)
    axes.plot(course.t, bridge, color=EDGE, linewidth=2.5, linestyle=(0, (1.5, 1.5)))
    axes.axhline(0.0, color=WATER, linewidth=2.5)
    halo = [withStroke(linewidth=4, foreground=PAPER)]

    def name(words: str, x: float, y: float, colour: str, across: str, up: str) -> None:
        axes.text(
            x, y, words, color=colour, ha=across, va=up, size=17, weight="bold", path_effects=halo
        )

    low, high = axes.get_xlim()
    name("still water", low + 0.01 * (high - low), -1.0, STILL_TO_FAST[0], "left", "top")
    named = int(NAMED_AT * len(course.t))
    aside = float(course.t[named]) + 0.02 * (high - low)
    name("the rim's edge", aside, float(height[named]), NAME_RED, "left", "bottom")
    name(" released", 0.0, axes.get_ylim()[1], INK, "left", "top")
    if hidden.any():
        k = int(np.flatnonzero(hidden)[0])
        # on the wall's side of the edge, inside the picture
        late = k > len(hidden) // 2
        words = "hidden, interpolated " if late else " hidden, interpolated"
        below = float(height[k]) - 0.06 * float(height[0])
        name(words, float(course.t[k]), below, INK, "right" if late else "left", "top")
    if course.under is not None:
        axes.plot([course.under], [0.0], "o", color=EDGE, markersize=13, markeredgecolor=PAPER)
    axes.axvline(0.0, color=QUIET_INK, linewidth=1.5, linestyle=(0, (4, 3)))


def still_figure(path: Path, number: int) -> Figure:
    """Frame of a clip, counted from 0, with axes in pixels and a fine grid over it.

    Raises CaseError as of `opened`, or if the clip ends before.
    """
    from matplotlib.figure import Figure
    from matplotlib.ticker import AutoMinorLocator, MaxNLocator

    with opened(path) as (clip, frames):
        frame = next(islice(frames, number, None), None)
        if frame is None:
            raise CaseError("is after the end of the clip", file=path, key="--frame", given=number)
        grey = frame.copy()
    inches = LONGEST_SIDE / max(clip.width, clip.height)
    left, foot, right, head = MARGINS
    wide, high = clip.width * inches, clip.height * inches
    whole = (max(left + wide + right, LEAST_SIDE + 1.0), foot + high + head)
    with house_style():
        figure = Figure(figsize=whole)
        axes = figure.add_axes((left / whole[0], foot / whole[1], wide / whole[0], high / whole[1]))
        axes.imshow(grey, cmap="gray", vmin=0, vmax=255, interpolation="nearest")
        for axis, pixels in ((axes.xaxis, clip.width), (axes.yaxis, clip.height)):
            axis.set_major_locator(MaxNLocator(max(4, round(pixels * inches / 0.9)), integer=True))
            axis.set_minor_locator(AutoMinorLocator(5))
        axes.grid(True, which="major", color=EDGE, alpha=0.55, linewidth=0.9)
        axes.grid(True, which="minor", color=PAPER, alpha=0.22, linewidth=0.5)
        axes.set(xlabel="x [pixels]", ylabel="y [pixels]")
        title(figure, f"Frame {number} of {clip.path.name}")
    return figure
