"""Figure of a comparison: draft, inner level and hole flow over time, flow solver and every model.

In the draft panel each curve has a marker where its rim passes under, and below it its name with
the sinking time; a bar at the flow solver's marker is the interval, thin lines are the members
of an ensemble. The two smaller panels have the same colours and dashes. Measurements are black:
trials as diamonds with 95 % intervals where the rim passes under, a trace as dots. A strip over
the draft shows the stages of the water inside (sinkbowl/reduced/stages.py), with ticks for the
heave model.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.textpath import TextPath
from matplotlib.ticker import MaxNLocator

from sinkbowl.common.sinking import Sinking, closed_air_words
from sinkbowl.corrected import model as corrected
from sinkbowl.reduced.stages import NAMES, Stages
from sinkbowl_post.comparing.compare import Comparison, flow_unit, run_words
from sinkbowl_post.drawing import ROUND, WORDS, note, panel, round_ticks, slide, write_inside
from sinkbowl_post.measured.mean_time import MeanTime
from sinkbowl_post.measured.overlay import MEASURED, Overlay
from sinkbowl_post.style import (
    HAIRLINE,
    LINES,
    PAPER,
    QUIET_INK,
    LineStyle,
    draw_line,
    seconds,
    seconds_with,
    time_unit,
)

FARTHEST = 1.6  # of the flow solver's sinking time: longer curves run out of the figure
TALLEST = 1.8  # of the flow solver's largest inner level or flow, likewise
DRAFT, STAGES = (0.075, 0.125, 0.48, 0.675), (0.075, 0.803, 0.48, 0.034)
LEVEL, FLOW = (0.67, 0.515, 0.305, 0.285), (0.67, 0.125, 0.305, 0.285)
"""Boxes of the panel of the draft and of the strip of stages."""

CLEAR = 0.09  # share of the drawn range of draft that a name above the curves takes
ROW = 0.085  # height of a name, share of the drawn range of draft

SHADES = (0.10, 0.30, 0.18)  # darkness of each band of the strip
GAP = 0.12  # space around a name [in]


def comparison_figure(comparison: Comparison, rim_height: float | None = None) -> Figure:
    """Draw the comparison on one slide; save it with :func:`sinkbowl_post.style.save_figure`.

    Parameters
    ----------
    rim_height : of the rim above the outer bottom [m]; None: the case's
    """
    if rim_height is None:
        assert comparison.case is not None
        rim_height = comparison.case.bowl.rim_height
    overlay = comparison.overlay
    curves = {"flow": comparison.flow, **comparison.models}
    end = horizon(comparison)
    factor, unit = time_unit(end)
    with slide(comparison.title, _text(comparison, end)) as figure:
        per_litre, unit_of_flow = flow_unit(np.max(comparison.flow.hole_flow, initial=0.0))
        draft = figure.add_axes(DRAFT)
        level = panel(figure, LEVEL, "inner level [mm]")
        flow = panel(figure, FLOW, f"flow through the hole [{unit_of_flow}]")
        inside = {name: one for name, one in curves.items() if name != corrected.MODEL}
        for axes, quantity, scale, shown in (
            (draft, "draft", 1e3, curves),
            (level, "inner_level", 1e3, inside),  # the map corrects times and drafts alone
            (flow, "hole_flow", per_litre, inside),
        ):
            _members(axes, comparison, quantity, scale, end)
            _curves(axes, shown, quantity, scale, end)
            axes.set_xlim(0, end * factor)
            round_ticks(axes.xaxis, 5)
        names = {name: (LINES[name], sinking.sinking_time) for name, sinking in curves.items()}
        names["flow"] = (LINES["flow"], comparison.best_time)
        if overlay is not None:
            names["measured"] = (MEASURED, overlay.time)
        rows = len(names) + (1 if overlay is not None and overlay.timed else 0)
        _draft_axis(draft, curves, rim_height, rows)
        measured = None if overlay is None else overlay.half_width
        halves = {"flow": comparison.half_width, "measured": measured}
        _name_curves(draft, names, rim_height, end, halves, rows)
        if overlay is not None:
            _draw_measured(draft, overlay, rim_height, factor)
        _draw_interval(draft, comparison, rim_height, factor)
        _draw_closed_air(draft, (level, flow), comparison, rim_height, end)
        _draw_stages(figure, comparison, end)
        draft.set_ylabel("draft [mm], downwards")
        level.set_xticklabels([])
        draft.set_xlabel(f"time since release [{unit}]")
        flow.set_xlabel(f"time since release [{unit}]")
    return figure


def horizon(comparison: Comparison) -> float:
    """End of the time axis [s]: shortly after the last relevant curve."""
    overlay = comparison.overlay
    flow = comparison.flow.sinking_time or float(comparison.flow.t[-1])
    times = [model.sinking_time for model in comparison.models.values()]
    if comparison.half_width is not None and comparison.flow.sinking_time is not None:
        times.append(flow + comparison.half_width)  # its bar ends inside the panel
    if overlay is not None:
        times += [overlay.time, *overlay.times]
    return 1.04 * max([flow, *(min(t, FARTHEST * flow) for t in times if t is not None)])


def _text(comparison: Comparison, end: float) -> str:
    """The slide's second line; end: of the time axis [s]."""
    flow, coefficient = comparison.flow, comparison.discharge["flow"]
    phrase = run_words(flow.outcome, flow.sinking_time, comparison.interval, coefficient, end)
    air = closed_air_words(comparison.air_before_the_rim, flow.sinking_time)
    return f"{phrase}; {air}" if air else phrase


def _curves(
    axes: Axes, curves: Mapping[str, Sinking], quantity: str, scale: float, end: float
) -> None:
    """All curves of one quantity; a model far above the flow solver leaves the panel."""
    factor, _ = time_unit(end)
    tops = {}
    for name, sinking in curves.items():
        seen = sinking.t <= min(end, sinking.events.get("rim_under", end))
        values = getattr(sinking, quantity)[seen] * scale
        draw_line(axes, sinking.t[seen] * factor, values, LINES[name])
        tops[name] = float(np.max(values, initial=0.0))
    axes.set_ylim(0, 1.08 * min(max(tops.values()), TALLEST * tops["flow"]) or 1.0)


def _members(axes: Axes, comparison: Comparison, quantity: str, scale: float, end: float) -> None:
    """The members of an ensemble, thin, behind the median one."""
    factor, _ = time_unit(end)
    for member in comparison.members if len(comparison.members) > 1 else ():
        seen = (member["t"] <= end) & (member["draft"] <= comparison.flow.draft.max())
        x, y = member["t"][seen] * factor, member[quantity][seen] * scale
        axes.plot(x, y, color=LINES["flow"].colour, linewidth=1.2, alpha=0.35)


def _draft_axis(axes: Axes, curves: Mapping[str, Sinking], rim_height: float, names: int) -> None:
    """Axis of draft, downwards from just above the curves, with a row per name below the rim."""
    rim = rim_height * 1e3
    top = min(float(sinking.draft[0]) for sinking in curves.values()) * 1e3
    top -= 0.08 * (rim - top)
    axes.set_ylim(rim + _row(rim - top, names) * (names + 0.6), top)
    ticks = MaxNLocator(5, steps=ROUND).tick_values(top, rim)
    axes.set_yticks([tick for tick in ticks if top <= tick <= rim])
    axes.axhline(rim, color=HAIRLINE, linewidth=2, zorder=0)
    beside = axes.get_yaxis_transform()
    axes.text(1.015, rim, "rim\nunder", transform=beside, color=QUIET_INK, va="center")


def _row(curves_range: float, names: int) -> float:
    """Height of a row of names for a range of the curves [mm]."""
    return ROW * curves_range / (1 - ROW * (names + 1))


def _name_curves(
    axes: Axes,
    names: Mapping[str, tuple[LineStyle, float | None]],
    rim_height: float,
    end: float,
    halves: Mapping[str, float | None],
    rows: int,
) -> None:
    """Mark where each rim passes under, with name and time on a separate row below.

    halves: half-widths of intervals [s]; rows: their number.
    """
    rim, (bottom, _) = rim_height * 1e3, axes.get_ylim()
    row, wide = (bottom - rim) / (rows + 0.6), _inches(axes)
    found = []
    for name, (line, time) in names.items():
        phrase = "not under" if time is None else seconds_with(time, halves.get(name), end)
        text, at = f"{line.name}  {phrase}", end if time is None else min(time, end)
        # left of its leader if there is room: in this order leaders avoid other names
        late = at > end / 2 or _width_of(text) < at / end * wide
        found.append((late, at if late else -at, line, text, time))
    for place, (late, at, line, text, time) in enumerate(sorted(found, key=lambda one: one[:2])):
        x, y = abs(at) * time_unit(end)[0], rim + row * (place + 0.85)
        if time is not None and time > end:
            text += " \u2192"
        elif time is not None:
            axes.plot([x, x], [rim, y], color=line.colour, linewidth=1.6)
            marker = "D" if line is MEASURED else "o"
            axes.plot(x, rim, marker, color=line.colour, markersize=11, clip_on=False)
        look: dict[str, Any] = {
            "size": 17,
            "color": line.colour,
            "weight": "bold" if line is LINES["flow"] else "normal",
            "bbox": {"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
        }
        note(axes, text, (x, y), (-8 if late else 8, 0), **look)


def _draw_interval(axes: Axes, comparison: Comparison, rim_height: float, factor: float) -> None:
    """Bar of the interval at the flow solver's marker."""
    interval = comparison.interval
    if interval is None:
        return
    axes.errorbar(
        interval.time * factor,
        rim_height * 1e3,
        xerr=[[(interval.time - interval.low) * factor], [interval.half * factor]],
        fmt="none",
        color=LINES["flow"].colour,
        elinewidth=4,
        capsize=8,
        clip_on=False,
    )


def _draw_closed_air(
    draft: Axes, others: Sequence[Axes], comparison: Comparison, rim_height: float, end: float
) -> None:
    """A thin dotted line at the time at which air was closed off, labelled clear of the curves.

    Drafts increase with time: above the curves there is room, except at the start.
    """
    air = comparison.air_before_the_rim
    if air is None or air[0] > end:
        return
    at, rim = air[0] * time_unit(end)[0], rim_height * 1e3
    style: dict[str, Any] = {"color": QUIET_INK, "linestyle": (0, (1.0, 2.0)), "linewidth": 1.6}
    draft.plot([at, at], [draft.get_ylim()[1], rim], zorder=1, **style)
    for axes in others:
        axes.axvline(at, zorder=1, **style)
    flow, (bottom, top) = comparison.flow, draft.get_ylim()
    depth = np.interp(air[0], flow.t, flow.draft) * 1e3
    if depth - top > CLEAR * (bottom - top):  # the curves lie below the name, and fall
        late = at > 0.7 * draft.get_xlim()[1]
        place, aside, rotation = top, (-5 if late else 5, -18), 0  # below the strip's ticks
    else:
        place, aside, rotation = rim, (5, 8), 90
    note(draft, "air closed off", (at, place), aside, color=QUIET_INK, rotation=rotation)


def _draw_stages(figure: Figure, comparison: Comparison, end: float) -> None:
    """A strip of the water's stages over the draft, if the flow has them."""
    stages, under = comparison.stages.get("flow"), comparison.flow.sinking_time
    if stages is not None and under is not None:
        strip, model = figure.add_axes(STAGES), comparison.stages.get("heave")
        draw_strip(strip, stages, min(under, end), end, model)


def _draw_measured(axes: Axes, overlay: Overlay, rim_height: float, factor: float) -> None:
    """Trials and their mean's bar on a row below all names; a trace as dots."""
    if overlay.trace is not None:
        t, draft = overlay.trace.t * factor, overlay.trace.draft * 1e3
        seen = draft <= rim_height * 1e3
        axes.plot(t[seen], draft[seen], "o", color=MEASURED.colour, markersize=5, alpha=0.65)
    if overlay.timed is not None:
        rim, (bottom, _) = rim_height * 1e3, axes.get_ylim()
        y = bottom - 0.06 * (bottom - rim)
        draw_trials(axes, overlay.timed, y, factor, MEASURED.colour)
        low = min(overlay.timed.mean - overlay.timed.half_width, min(overlay.timed.times))
        high = max(overlay.timed.mean + overlay.timed.half_width, max(overlay.timed.times))
        x, end = (low * factor, high * factor), axes.get_xlim()[1]
        late, beyond = x[0] > 0.3 * end, [t for t in overlay.timed.times if t * factor > end]
        name = f"trials, also {seconds(max(beyond))} \u2192" if beyond else "trials"
        # beside the bar, or over its end where that reaches the panel's edge
        aside = (-10, 0) if late else (10, 0) if x[1] < 0.85 * end else (4, 15)
        place = x[1] if aside == (10, 0) else x[0]
        note(axes, name, (max(place, 0.0), y), aside, color=MEASURED.colour)


def draw_trials(axes: Axes, timed: MeanTime, y: float, factor: float, colour: str) -> None:
    """Each trial as a short stroke at a height y, a suspect one as a cross; the mean with its bar.

    factor: of the time axis [1/s].
    """
    end = axes.get_xlim()[1]
    for place, time in enumerate(timed.times):
        if time * factor > end:
            continue
        mark = "x" if place == timed.suspect else "|"
        axes.plot(time * factor, y, mark, color=colour, ms=13, mew=2, clip_on=False)
    mean, half = timed.mean * factor, timed.half_width * factor
    if mean > end:
        return
    low, high = min(half, mean), min(half, end - mean)
    if high < half:  # the interval goes on beyond the panel
        axes.plot(end, y, ">", color=colour, markersize=10, clip_on=False)
    axes.errorbar(
        mean,
        y,
        xerr=[[low], [high]],
        fmt="D",
        color=colour,
        markersize=7,
        elinewidth=3,
        clip_on=False,
    )


def draw_strip(axes: Axes, stages: Stages, until: float, end: float, model: Stages | None) -> None:
    """Bands of the flow's stages with their names, and the heave model's changes as ticks.

    axes : as wide as the time axis below, a line high
    until : end of the last band [s]
    end : of the time axis [s]
    """
    factor, _ = time_unit(end)
    axes.set_axis_off()
    axes.set_xlim(0.0, end * factor)
    axes.set_ylim(0.0, 1.0)
    edges = [0.0, *(t for t in stages if t is not None and t < until), until]
    bands = [(k, a, b) for k, (a, b) in enumerate(pairwise(edges)) if b > a]
    for k, low, high in bands:
        colour, alpha = LINES["flow"].colour, SHADES[k]
        axes.axvspan(low * factor, high * factor, color=colour, alpha=alpha, lw=0)
    for time in model or ():
        if time is not None and time < end:
            x, colour = time * factor, LINES["heave"].colour
            axes.plot([x, x], [-0.4, 0.0], color=colour, linewidth=3.5, clip_on=False)
    names = [NAMES[k] for k, _, _ in bands]
    _write_names(axes, names, [0.0, *(high / end for _, _, high in bands)])


def _write_names(axes: Axes, names: Sequence[str], edges: Sequence[float]) -> None:
    """Each name in its band; of one too long for it the last word, if that fits."""
    wide = _inches(axes)
    for name, (low, high) in zip(names, pairwise(edges), strict=True):
        for words in (name, name.split()[-1]):
            if _width_of(words) <= wide * (high - low):
                look = {"color": LINES["flow"].colour}
                write_inside(axes, low + 0.06 / wide, 0.46, words, **look)
                break


def _inches(axes: Axes) -> float:
    """Width of a panel [in]."""
    figure = axes.figure.get_figure(root=True)
    assert figure is not None
    return figure.get_figwidth() * axes.get_position().width


def _width_of(name: str) -> float:
    """Of a name of the usual size [in]."""
    return float(TextPath((0.0, 0.0), name, size=WORDS).get_extents().width) / 72.0 + GAP
