"""How the runs on a slide of several are drawn, and the place on it that names them."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from sinkbowl.common.plain_text import one_line
from sinkbowl_post.comparing.runs import Run
from sinkbowl_post.style import INK, QUIET_INK, RUN_LINES, LineStyle, draw_line, seconds_with

EVENT_MARKS = {"rim_under": "o", "over_rim": "^", "full": "s"}
MARK_NAMES = {"o": "rim under", "^": "over the rim", "s": "full"}
MEASURED_MARK = "D"

LONGEST_NAME = 13
"""Letters of a run's name that fit; of a longer one the beginning is left out."""


def write_key(axes: Axes, runs: Sequence[Run]) -> None:
    """Name and sinking time of each run, and what the marks mean."""
    axes.set_axis_off()
    axes.set_xlim(0, 1)
    marks = dict(MARK_NAMES)
    if any(run.overlay is not None for run in runs):
        marks[MEASURED_MARK] = "measured"
    rows = max(len(runs), 3) + 3.2
    axes.set_ylim(rows, 0)
    axes.text(1.0, 0.4, "rim under after", color=QUIET_INK, size=16, ha="right", va="center")
    longest = max(run.comparison.best_time or 0.0 for run in runs)
    for row, (run, line) in enumerate(zip(runs, RUN_LINES, strict=False)):
        _row(axes, run, line, row + 1.4, longest)
    for place, (mark, name) in enumerate(marks.items()):
        x, y = 0.03 + 0.5 * (place % 2), rows - 1.4 + place // 2
        axes.plot(x, y, mark, color=INK, markersize=9, clip_on=False)
        axes.text(x + 0.05, y, name, color=INK, size=16, va="center")


def _row(axes: Axes, run: Run, line: LineStyle, y: float, longest: float) -> None:
    """One run: a piece of its line, its name, its sinking time."""
    draw_line(axes, [0.0, 0.09], [y, y], line)
    name, time = one_line(run.label), run.comparison.best_time
    if len(name) > LONGEST_NAME:
        name = "\u2026" + name[1 - LONGEST_NAME :]
    interval = run.comparison.interval
    told = "not under"
    if time is not None:
        told = seconds_with(time, interval.half if interval else None, longest)
    for x, text, side in ((0.11, name, "left"), (1.0, told, "right")):
        axes.text(x, y, text, color=line.colour, size=16, ha=side, va="center", weight="bold")
