"""Several runs on one slide: draft, inner level, head, hole flow, difference from heave.

Each run has one colour and dash pattern in all panels; the sixth place on the slide is the key.
Marks on the curves are events: the rim passes under, the first water comes over it, the bowl is
full. Measured trials are strokes, their mean a diamond with its 95 % interval; a trace is a row of
diamonds.

If the slowest run takes several times as long as the fastest, the time of each is in units of its
own sinking time, and the diamonds have the colour of the run with their unit.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from sinkbowl.common.shown import one_line
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.comparing.compare import flow_unit
from sinkbowl_post.comparing.figure import draw_trials
from sinkbowl_post.comparing.runs import Run
from sinkbowl_post.drawing import panel, slide
from sinkbowl_post.measured.overlay import MEASURED
from sinkbowl_post.style import (
    HAIRLINE,
    INK,
    QUIET_INK,
    RUN_LINES,
    LineStyle,
    draw_line,
    seconds_with,
    time_unit,
)

WIDE_APART = 3.0  # ratio of sinking times from which each run has its own unit of time

DRAFT, LEVEL, KEY = (
    (0.07, 0.53, 0.245, 0.27),
    (0.395, 0.53, 0.245, 0.27),
    (0.675, 0.49, 0.305, 0.34),
)
HEAD, FLOW, RESIDUAL = (
    (0.07, 0.12, 0.245, 0.27),
    (0.395, 0.12, 0.245, 0.27),
    (0.735, 0.12, 0.245, 0.27),
)


def runs_figure(runs: Sequence[Run]) -> Figure:
    """Draw two to six runs on one slide; save it with :func:`sinkbowl_post.style.save_figure`."""
    times = [_length(run) for run in runs]
    apart = max(times) > WIDE_APART * min(times)
    factor, unit = (1.0, "") if apart else time_unit(max(_end(run) for run in runs))
    scales = [1.0 / time if apart else factor for time in times]
    largest = max(float(np.max(run.comparison.flow.hole_flow)) for run in runs)
    per_litre, unit_of_flow = flow_unit(largest)
    drawn = list(zip(runs, scales, RUN_LINES, strict=False))
    with slide(f"{len(runs)} runs side by side", _text(runs)) as figure:
        panels = {
            "draft [mm], downwards": (DRAFT, "draft", 1e3),
            "inner level [mm]": (LEVEL, "inner_level", 1e3),
            "head [mm]": (HEAD, "head", 1e3),
            f"flow through the hole [{unit_of_flow}]": (FLOW, "hole_flow", per_litre),
        }
        for heading, (box, quantity, by) in panels.items():
            axes = panel(figure, box, heading)
            for run, scale, line in drawn:
                _curve(axes, run, quantity, (scale, by), line)
            if quantity == "draft":
                axes.invert_yaxis()
                for run, scale, line in drawn:
                    _draw_measured(axes, run, scale, line if apart else MEASURED)
        residual = panel(figure, RESIDUAL, "deeper than heave [mm]")
        residual.axhline(0.0, color=HAIRLINE, linewidth=2, zorder=0)
        for run, scale, line in drawn:
            t, deeper = draft_residual(run)
            draw_line(residual, t * scale, deeper * 1e3, line)
        end = max(_end(run) * scale for run, scale in zip(runs, scales, strict=True))
        words = "time / own sinking time" if apart else f"time since release [{unit}]"
        for axes in figure.axes:
            axes.set_xlim(0, 1.03 * end)
            axes.xaxis.set_major_locator(MaxNLocator(5))
            axes.yaxis.set_major_locator(MaxNLocator(5))
            if axes.get_position().y0 < DRAFT[1]:
                axes.set_xlabel(words)
        write_key(figure.add_axes(KEY), runs)
    return figure


def draft_residual(run: Run) -> tuple[FloatArray, FloatArray]:
    """Times [s] and the run's draft minus the heave model's [m].

    Until either rim is under.
    """
    flow, heave = run.comparison.flow, run.comparison.models["heave"]
    ends = [sinking.events.get("rim_under", float(sinking.t[-1])) for sinking in (flow, heave)]
    seen = flow.t <= min(ends)
    t = flow.t[seen]
    return t, flow.draft[seen] - np.interp(t, heave.t, heave.draft)


def _text(runs: Sequence[Run]) -> str:
    """The slide's second line: range of the sinking times."""
    quickest, slowest = min(runs, key=_length), max(runs, key=_length)
    low, high = (_time_of(run, _length(slowest)) for run in (quickest, slowest))
    return f"sinking times from {low} to {high}"


def _time_of(run: Run, longest: float) -> str:
    """Sinking time of a run, with its interval if there is one."""
    interval = run.comparison.interval
    return seconds_with(_length(run), interval.half if interval else None, longest)


def _length(run: Run) -> float:
    """Sinking time, or duration of a run without one [s]."""
    return run.comparison.best_time or float(run.comparison.flow.t[-1])


def _end(run: Run) -> float:
    """Last time drawn of a run [s]: its last event, or the end of a run that does not sink."""
    flow = run.comparison.flow
    last = max(flow.events.values(), default=0.0)
    return last if flow.sinking_time is not None else float(flow.t[-1])


def _curve(axes: Axes, run: Run, quantity: str, by: tuple[float, float], line: LineStyle) -> None:
    """A run's curve, time and values scaled, with the marks of its events."""
    flow, (along, up) = run.comparison.flow, by
    seen = flow.t <= _end(run)
    values = getattr(flow, quantity)
    draw_line(axes, flow.t[seen] * along, values[seen] * up, line)
    for event, mark in EVENT_MARKS.items():
        if event in flow.events:
            t = flow.events[event]
            height = float(np.interp(t, flow.t, values)) * up
            axes.plot(t * along, height, mark, color=line.colour, markersize=9, clip_on=False)


def _draw_measured(axes: Axes, run: Run, scale: float, line: LineStyle) -> None:
    """Trials at rim under, or a trace, as diamonds in a line's colour."""
    overlay = run.comparison.overlay
    if overlay is None:
        return
    rim, colour = run.result.case.bowl.rim_height * 1e3, line.colour
    if overlay.trace is not None:
        t, draft = overlay.trace.t * scale, overlay.trace.draft * 1e3
        axes.plot(t, draft, MEASURED_MARK, color=colour, markersize=5, alpha=0.6)
    if overlay.timed is not None:
        draw_trials(axes, overlay.timed, rim, scale, colour)


EVENT_MARKS = {"rim_under": "o", "over_rim": "^", "full": "s"}
MARK_NAMES = {"o": "rim under", "^": "over the rim", "s": "full"}
MEASURED_MARK = "D"

LONGEST_NAME = 13  # maximum length of a run's name; the beginning of a longer one is cut


def write_key(axes: Axes, runs: Sequence[Run]) -> None:
    """Key: name and sinking time of each run, and the meaning of the marks."""
    axes.set_axis_off()
    axes.set_xlim(0, 1)
    marks = dict(MARK_NAMES)
    if any(run.comparison.overlay is not None for run in runs):
        marks[MEASURED_MARK] = "measured"
    rows = max(len(runs), 3) + 3.2
    axes.set_ylim(rows, 0)
    axes.text(1.0, 0.4, "rim under after", color=QUIET_INK, size=16, ha="right", va="center")
    longest = max(run.comparison.best_time or 0.0 for run in runs)
    for row, (run, line) in enumerate(zip(runs, RUN_LINES, strict=False)):
        y, name = row + 1.4, one_line(run.label)
        draw_line(axes, [0.0, 0.09], [y, y], line)
        if len(name) > LONGEST_NAME:
            name = "\u2026" + name[1 - LONGEST_NAME :]
        sunk = run.comparison.best_time is not None
        words = _time_of(run, longest) if sunk else "not under"
        for x, text, side in ((0.11, name, "left"), (1.0, words, "right")):
            axes.text(x, y, text, color=line.colour, size=16, ha=side, va="center", weight="bold")
    for place, (mark, name) in enumerate(marks.items()):
        x, y = 0.03 + 0.5 * (place % 2), rows - 1.4 + place // 2
        axes.plot(x, y, mark, color=INK, markersize=9, clip_on=False)
        axes.text(x + 0.05, y, name, color=INK, size=16, va="center")
