"""The slide of the reference curves: sinking times left, the breakdown map right.

Left the dimensionless sinking time against d/D, both logarithmic: the runs as dots with their
interval, the reduced models as lines in their colours; every family of one mass ratio by its
name. Right how far each model is off, over bands of 2, 5 and 10 %.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullLocator

from sinkbowl_post.reference_curves.breakdown import LEVELS, families
from sinkbowl_post.reference_curves.points import RunPoint
from sinkbowl_post.style import (
    HAIRLINE,
    INK,
    LINES,
    QUIET_INK,
    SLIDE,
    draw_line,
    house_style,
    title,
)

TIMES, MAP = (0.085, 0.135, 0.40, 0.66), (0.60, 0.135, 0.30, 0.66)
TICKS = (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0)
FARTHEST = 0.4
"""Largest deviation that the map shows."""

BAND_SHADES = (0.55, 0.40, 0.30)
BAND_NAMES = ((0.02, -1), (0.05, 1), (0.10, 1))
"""Where each band is named: at its upper or its lower edge."""

NAME_ROOM = 0.42
"""Where the axis of times begins, in the least d/D: names of families stand before their points."""


def curves_figure(points: Sequence[RunPoint]) -> Figure:
    """Draw the reference curves on one slide."""
    with house_style():
        figure = Figure(figsize=SLIDE)
        low, high = points[0], points[0]
        for point in points:
            low, high = min(low, point, key=_ratio), max(high, point, key=_ratio)
        title(
            figure,
            "From a pinhole to no base at all",
            f"{points[0].title}: {len(points)} runs, d/D {low.hole_ratio:.2g} to "
            f"{high.hole_ratio:.2g}",
        )
        _times(figure.add_axes(TIMES), points)
        _map(figure.add_axes(MAP), points)
    return figure


def _ratio(point: RunPoint) -> float:
    return point.hole_ratio


def _times(axes: Axes, points: Sequence[RunPoint]) -> None:
    groups = families(points)
    for number, (_, family) in enumerate(groups):
        for model in family[0].models:
            told = [p for p in family if p.models[model] is not None]
            if told and (model != "falling" or number == 0):
                x = [p.hole_ratio for p in told]
                y = [(p.models[model] or 0.0) / p.scale for p in told]
                draw_line(axes, x, y, LINES[model])
        x = [p.hole_ratio for p in family]
        y = [p.time / p.scale for p in family]
        bars = [
            [(p.time - p.interval.low) / p.scale for p in family],
            [p.interval.half / p.scale for p in family],
        ]
        axes.errorbar(x, y, yerr=bars, fmt="o", color=LINES["flow"].colour, ms=9, zorder=3)
        axes.annotate(
            f"m/\u03c1V = {_range([p.mass_ratio for p in family])}",
            (x[0], y[0]),
            xytext=(-12, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            color=INK,
            size=16,
        )
    axes.set_yscale("log")
    axes.margins(y=0.12)
    axes.set_title("sinking time T \u221a(g/H)", loc="left", size=18)
    _ratio_axis(axes, points, NAME_ROOM)
    axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _range(values: Sequence[float]) -> str:
    """One number, or two with a dash between, to a hundredth."""
    return "\u2013".join(dict.fromkeys(f"{value:.2f}" for value in (min(values), max(values))))


def _map(axes: Axes, points: Sequence[RunPoint]) -> None:
    for level, shade in zip(LEVELS, BAND_SHADES, strict=True):
        axes.axhspan(-100 * level, 100 * level, color=HAIRLINE, alpha=shade, lw=0)
    for level, side in BAND_NAMES:
        axes.text(
            1.02,
            100 * level * side,
            f"\u00b1{100 * level:.0f} %",
            size=16,
            color=QUIET_INK,
            va="center",
            transform=axes.get_yaxis_transform(),
        )
    axes.axhline(0.0, color=LINES["flow"].colour, lw=2.5)
    groups = families(points)
    for point in points:
        bar = 100.0 * point.interval.half / point.time
        axes.errorbar(point.hole_ratio, 0.0, yerr=bar, color=LINES["flow"].colour, lw=2, alpha=0.6)
    for model, line in LINES.items():
        if model == "flow":
            continue
        for _, family in groups:
            told = [p for p in family if p.deviation(model) is not None]
            x = np.array([p.hole_ratio for p in told])
            y = 100.0 * np.array([p.deviation(model) for p in told], dtype=float)
            near = np.abs(y) <= 100.0 * FARTHEST
            if near.any():
                draw_line(axes, x[near], y[near], line, marker="o", ms=6)
    axes.set_ylim(-100 * FARTHEST, 100 * FARTHEST)
    axes.set_title("model over flow solver, less one [%]", loc="left", size=18)
    _ratio_axis(axes, points)
    for place, model in zip((0.94, 0.86, 0.78), ("heave", "quasi-static", "falling"), strict=True):
        axes.text(
            0.04,
            place,
            LINES[model].name,
            color=LINES[model].colour,
            size=17,
            weight="bold",
            transform=axes.transAxes,
            va="center",
        )


def _ratio_axis(axes: Axes, points: Sequence[RunPoint], room: float = 0.85) -> None:
    """Logarithmic axis of d/D that begins at `room` times the least."""
    axes.set_xscale("log")
    low = min(p.hole_ratio for p in points)
    high = max(p.hole_ratio for p in points)
    axes.set_xlim(room * low, 1.12 * high)
    axes.xaxis.set_major_locator(FixedLocator([t for t in TICKS if low * room <= t <= high * 1.12]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.set_xlabel("hole over bowl, d/D")
