"""Figure of a trace: the line stacked over time, with the edge."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sinkbowl.common.constants import QUANTILE
from sinkbowl.common.shown import seconds, seconds_with
from sinkbowl_post.drawing import slide
from sinkbowl_post.style import INK, PAPER, QUIET_INK, STILL_TO_FAST

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sinkbowl_post.tracing.trace import ClipTrace

EDGE = "#E4572E"
NAME_RED = "#A61E3C"
WATER = "#55B0D3"
BESIDE = 0.08
"""Margins in time, as a share of the sinking."""
NAMED_AT = 0.3
"""Position of the edge's name, as a share of the frames."""


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
