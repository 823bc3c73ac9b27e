"""The design chart on one slide: hole across, ballast or mass up, lines of equal sinking time.

Zones: below, the bowl floats; above, it goes under at once; at the left surface tension holds the
hole shut; at the right it falls freely, too fast for the reduced models; red where it heels,
hatched where it tips. The bowl of the case is a diamond, trials are dots with their times.
"""

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullFormatter

from sinkbowl.design.charting.chart import Chart
from sinkbowl.design.charting.column import chart_point_of, load_of
from sinkbowl.design.sizing.drills import PER_METRE, SERIES
from sinkbowl.design.sizing.sizing import best_of
from sinkbowl_post.chart.names import Names, grown
from sinkbowl_post.chart.trials import Mark
from sinkbowl_post.chart.zones import Fields, fields_of, rasters
from sinkbowl_post.drawing import slide
from sinkbowl_post.style import (
    BRASS,
    BRASS_EDGE,
    INK,
    LINES,
    LOW_TO_HIGH,
    PAPER,
    QUIET_INK,
    SLIDE,
    seconds,
)

PANEL = (0.085, 0.125, 0.895, 0.70)  # place of the chart in the figure
FINE = (321, 161)  # points of the drawn fields, across and up
MARK_ROOM = 0.04  # margin beyond a mark outside the spans, as a share of them

BELOW, ABOVE = 0.13, 0.10
"""Margins below and above the spans for the zones there, as shares of them."""

COLOURS = {
    "floats": LOW_TO_HIGH[0],
    "under": "#C9CDD2",
    "plugged": "#EBDCBD",
    "falls freely": "#E3E4E6",
    "heels": "#F8E9EC",
    "tips": "#F0CDD3",
}

PLAIN: dict[str, Any] = {"linewidths": 2.2, "linestyles": "-"}
HINT: dict[str, Any] = {"linewidths": 1.3, "linestyles": [(0, (4.0, 2.0))]}
"""Style of lines where the models are not valid."""

TIPPING, TIMES = LINES["heave"].colour, LINES["flow"].colour

NAMED = (1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 63, 80, 100)
"""Drills with a number on the axis [mm]."""

STEPS = (10, 50, 100, 200, 500)  # steps for thinning the ticks of the others [0.01 mm]
LEAST_GAP = 0.006  # minimum distance of two ticks, as a share of the axis of holes

ROUND_TIMES = (
    *(0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30),
    *(60, 120, 300, 600, 1200, 1800, 3600, 7200, 18_000, 36_000, 86_400),
)
"""Possible times of lines [s]."""

MOST_LINES = 11  # maximum number of lines of equal time


def chart_figure(chart: Chart, marks: tuple[Mark, ...] = ()) -> Figure:
    """Draw a chart; save it with :func:`sinkbowl_post.style.save_figure`.

    chart : of a bowl
    marks : trials to show
    """
    fields = fields_of(chart, *FINE)
    words = (
        f"time until the rim is under by the {LINES[chart.model].name} model; water at "
        f"{chart.case.water.words}, {chart.case.start.words}"
    )
    with slide(chart.case.title, words) as figure:
        axes = figure.add_axes(PANEL)
        _limits(axes, chart, marks)
        names = Names(axes, (PANEL[2] * SLIDE[0], PANEL[3] * SLIDE[1]))
        _ends(axes, chart)
        _zones(axes, fields)
        lines = _equal_times(axes, fields)
        own = _own_bowl(axes, chart)
        names.keep_clear([(mark.hole, mark.load) for mark in marks])
        if own is not None:
            names.beside(*own, colour=BRASS_EDGE, bold=True)
        for mark in marks:
            _trial(axes, mark)
            names.beside((mark.hole, mark.load), mark.words, colour=INK)
        names.on_lines(lines, TIMES)
        holes, loads = names.raster()
        names.in_zones(rasters(chart, fields, holes, loads), chart.under_above)
        _hole_axis(axes, chart)
        what = "ballast ring" if chart.kind == "ballast" else "mass of the bowl"
        axes.set_ylabel(f"{what} [g]")
        axes.yaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 5, 10]))
    return figure


def _limits(axes: Axes, chart: Chart, marks: tuple[Mark, ...]) -> None:
    low, high = float(chart.low.min()), float(chart.high.max())
    tall = high - low
    bottom = low - (BELOW * tall if chart.floats_below else 0.0)
    top = high + (ABOVE * tall if chart.under_above else 0.0)
    loads = [mark.load for mark in marks] + [load_of(chart.case)]
    room = MARK_ROOM * tall
    bottom = min([bottom, *(load - room for load in loads if load < bottom)])
    top = max([top, *(load + room for load in loads if load > top)])
    axes.set_xscale("log")
    axes.set_xlim(1e3 * chart.holes[0], 1e3 * chart.holes[-1])
    axes.set_ylim(1e3 * max(bottom, 0.0), 1e3 * top)


def _ends(axes: Axes, chart: Chart) -> None:
    """The zones below and above the spans."""
    bottom, top = axes.get_ylim()
    across, low, high = (1e3 * values for values in (chart.holes, chart.low, chart.high))
    if chart.floats_below:
        axes.fill_between(across, bottom, low, color=COLOURS["floats"], lw=0)
        axes.plot(across, low, color=TIMES, lw=2.5)
    axes.fill_between(across, high, top, color=COLOURS["under"], lw=0)
    axes.plot(across, high, color=QUIET_INK, lw=2.5)


def _zones(axes: Axes, fields: Fields) -> None:
    """Zones: heels, falls freely, plugged, tips; the last on top."""
    x, y = _mesh(fields)
    for name, field in (
        ("heels", fields.heeling),
        ("falls freely", fields.falls_freely),
        ("plugged", fields.shut),
    ):
        if field.max() > 0.0:
            axes.contourf(x, y, field, levels=[0.0, np.inf], colors=[COLOURS[name]])
            axes.contour(x, y, field, levels=[0.0], colors=[QUIET_INK], linewidths=2.0)
    for outline in fields.tipping:
        loads = [
            np.interp(share, fields.shares, fields.loads[int(np.argmin(abs(fields.holes - hole)))])
            for hole, share in outline
        ]
        at = (1e3 * outline[:, 0], 1e3 * np.array(loads))
        axes.fill(*at, facecolor=COLOURS["tips"], edgecolor=COLOURS["tips"], linewidth=0.8)
        axes.fill(*at, facecolor="none", edgecolor=TIPPING, linewidth=0.0, hatch="//", alpha=0.5)


def _mesh(fields: Fields) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates of the fields on the panel, [mm] and [g]."""
    y = 1e3 * fields.loads
    return np.broadcast_to(1e3 * fields.holes[:, None], y.shape), y


def _equal_times(axes: Axes, fields: Fields) -> dict[float, list[np.ndarray]]:
    """Draw lines of round times; the pieces (n, 2) [mm, g] of each by its time [s].

    They are thin and dashed where the bowl falls freely: there they are only a hint.
    """
    x, y = _mesh(fields)
    round_times = line_times(float(np.nanmin(fields.times)), float(np.nanmax(fields.times)))
    pieces: dict[float, list[np.ndarray]] = {time: [] for time in round_times}
    falls_freely = fields.falls_freely > 0.0
    for there, style in ((~falls_freely, PLAIN), (falls_freely, HINT)):
        wider = grown(there)  # so that lines on both sides of a border meet
        logs = np.log(np.where(wider, fields.times, np.nan))
        if np.isfinite(logs).any():
            drawn = axes.contour(x, y, logs, levels=np.log(round_times), colors=[TIMES], **style)
            for time, found in zip(round_times, drawn.allsegs, strict=True):
                pieces[time] += found
    return pieces


def _own_bowl(axes: Axes, chart: Chart) -> tuple[tuple[float, float], str] | None:
    """Mark the bowl of the case; its place [m], [kg] and its label."""
    case = chart.case
    hole, load = case.hole.diameter, load_of(case)
    axes.plot(1e3 * hole, 1e3 * load, "D", color=BRASS, mec=BRASS_EDGE, mew=2, ms=13, zorder=6)
    axes.lines[-1].set_clip_on(False)
    low, high = chart.span_at(hole)
    time = chart_point_of(case, chart.model).time if low < load < high else float("nan")
    if np.isnan(time):
        return (hole, load), "this bowl"
    return (hole, load), f"this bowl, {best_of(case, chart.model) or seconds(time)}"


def _trial(axes: Axes, mark: Mark) -> None:
    """Trials of one bowl: a dot, open if none sank."""
    face = PAPER if mark.time is None else INK
    axes.plot(1e3 * mark.hole, 1e3 * mark.load, "o", mfc=face, mec=INK, mew=2, ms=9, zorder=5)


def _hole_axis(axes: Axes, chart: Chart) -> None:
    """Ticks at preferred drills; round ones have numbers."""
    low, high = float(chart.holes[0]), float(chart.holes[-1])
    axes.xaxis.set_major_locator(FixedLocator([1e3 * d for d in named_drills(low, high)]))
    axes.xaxis.set_minor_locator(FixedLocator([1e3 * d for d in drill_ticks(low, high)]))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.tick_params(axis="x", which="major", size=12)
    axes.tick_params(axis="x", which="minor", size=5, width=0.8, color=QUIET_INK)
    count = chart.case.hole.count
    what = "hole" if count == 1 else f"each of {count} equal holes"
    if not chart.case.hole.equal:
        what = f"widest of {count} holes in proportion"
    axes.set_xlabel(f"{what} [mm], ticks at preferred drills")


def drill_ticks(low: float, high: float) -> list[float]:
    """Preferred drills between two diameters [m], thinned to round steps if too dense [m]."""
    reach = math.log(high / low)
    found = []
    for drill in SERIES:
        diameter = drill / PER_METRE
        if not low <= diameter <= high:
            continue
        apart = (step for step in STEPS if step / drill >= LEAST_GAP * reach)
        if drill % next(apart, STEPS[-1]) == 0:
            found.append(diameter)
    return found


def named_drills(low: float, high: float) -> list[float]:
    """Drills with a number [m]."""
    return [d / 1e3 for d in NAMED if low <= d / 1e3 <= high]


def line_times(shortest: float, longest: float) -> list[float]:
    """Round times [s] within a range, every second one if there are too many."""
    found = [time for time in ROUND_TIMES if shortest < time < longest]
    while len(found) > MOST_LINES:
        found = found[::2]
    return found
