"""Figure of trials with one hole: times, and the coefficient that each model needs.

One hole cannot show a change of the coefficient from hole to hole. Left all trials in the table's
order with the mean per mass and its interval; right the discharge coefficients with theirs, and
behind them the expected one.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sinkbowl_post.drawing import band, note, round_ticks, slide, write_inside
from sinkbowl_post.fitting.trial_fit import TrialFit
from sinkbowl_post.fitting.verdict import hole_range, plus_minus
from sinkbowl_post.style import HAIRLINE, INK, LINES, QUIET_INK, time_unit

LEFT, RIGHT = (0.1, 0.125, 0.365, 0.67), (0.545, 0.125, 0.425, 0.67)
"""Places of the two panels in the figure."""


def one_hole_figure(fit: TrialFit) -> Figure:
    """Draw the slide."""
    timed = fit.timed
    hole, count = timed.holes[0], len(timed.time)
    means = timed.means
    phrase = f"Hole of {hole_range(hole, hole)}"
    if len(means) == 1:
        phrase += f": rim under after {means[0].words}"
    trials = "one trial" if count == 1 else f"{count} trials"
    others = f"{trials}; other holes would distinguish the models: {fit.title}"
    with slide(phrase, others, fit.title) as figure:
        _times(figure.add_axes(LEFT), fit)
        _coefficients(figure.add_axes(RIGHT), fit)
    return figure


def _times(axes: Axes, fit: TrialFit) -> None:
    """All times in order, and the mean per mass with its interval behind them."""
    timed, start = fit.timed, 0
    factor, unit = time_unit(float(np.max(timed.time)))
    ticks: list[tuple[float, int]] = []
    for group, mean in zip(timed.groups, timed.means, strict=True):
        x = start + 1.0 + np.arange(len(group))
        ends = (x[0] - 0.45, x[-1] + 0.45)
        low, high = (factor * (mean.mean + s * mean.half_width) for s in (-1, 1))
        band(axes, ends, low, high)
        axes.plot(ends, [mean.mean * factor] * 2, color=INK, linewidth=2)
        for place, (at, time) in enumerate(zip(x, mean.times, strict=True)):
            mark = "x" if place == mean.suspect else "o"
            axes.plot(at, time * factor, mark, color=INK, markersize=11, mew=3)
            if place == mean.suspect:
                note(axes, "suspect", (at, time * factor), (-10, 0), color=QUIET_INK)
        if len(timed.means) > 1:
            words = f"{1e3 * timed.mass[group[0]]:.4g} g\n{mean.words}"
            note(axes, words, (x[0] - 0.4, high), (0, 6), ha="left")
        ticks += list(zip(x.tolist(), mean.rows, strict=True))
        start += len(group)
    low, high = axes.get_ylim()
    axes.set_ylim(max(0.0, low - 0.1 * (high - low)), high + 0.25 * (high - low))
    shown = ticks[:: 1 + len(ticks) // 12]
    axes.set_xticks([at for at, _ in shown], [str(row) for _, row in shown])
    round_ticks(axes.yaxis, 5)
    axes.set_xlabel("row in the table")
    axes.set_ylabel(f"time until the rim is under [{unit}]")
    write_inside(axes, 0.02, 0.98, "grey: mean, 95 %", color=QUIET_INK, va="top")


def _coefficients(axes: Axes, fit: TrialFit) -> None:
    """One row per model: its coefficient with the interval, and both as text above."""
    known = [(name, c) for name, c in fit.holes[0].coefficient.items() if c is not None]
    expected = fit.expected
    if expected is not None:
        axes.axvspan(expected.low, expected.high, color=HAIRLINE, alpha=0.55, lw=0)
    for row, (name, found) in enumerate(known):
        line = LINES[name]
        axes.errorbar(
            found.value, row, xerr=found.half_width, fmt="o", color=line.colour, ms=11, elinewidth=3
        )
        phrase = f"{line.name}  {plus_minus(found)}"
        note(axes, phrase, (found.value, row), (0, 14), color=line.colour, size=17, va="baseline")
    axes.set_ylim(len(known) - 0.4, -0.8)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    ends = [end for _, c in known for end in (c.low, c.high)]
    ends += [expected.low, expected.high] if expected is not None else []
    if ends:
        middle, half = 0.5 * (min(ends) + max(ends)), 0.5 * (max(ends) - min(ends))
        half = max(1.35 * half, 0.03)
        axes.set_xlim(middle - half, middle + half)
    round_ticks(axes.xaxis, 5)
    axes.set_xlabel("discharge coefficient needed, 95 %")
    if expected is not None:
        phrase = f"grey: expected, {plus_minus(expected)}"
        axes.set_title(phrase, loc="left", size=16, color=QUIET_INK)
