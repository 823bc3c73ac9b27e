"""Figures of a fit: coefficient of each hole and residuals; a trace and its models.

Trials with several holes: the upper panel has the discharge
coefficient fitted to each hole alone, with its 95 % interval, and the band of the common one over
the holes that it explains; points of a valid model are level. The lower panel has the residuals,
measured over model time. A trace: the points with every model's best curve, and below it their
differences.

One hole cannot show a change of the coefficient from hole to hole: left are all its trials in the
table's order with the mean per mass and its interval, right the coefficient that each model needs,
with its interval, and behind them the expected one.
"""

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator

from sinkbowl.common import QUANTILE
from sinkbowl.common.shown import plural
from sinkbowl_post.drawing import ROUND, band, note, round_ticks, slide, write_inside
from sinkbowl_post.fitting.estimate import ConfidenceInterval
from sinkbowl_post.fitting.trace import TraceFit
from sinkbowl_post.fitting.trial_fit import ModelFit, TrialFit
from sinkbowl_post.fitting.verdict import hole_range, plus_minus
from sinkbowl_post.style import HAIRLINE, INK, LINES, PAPER, QUIET_INK, draw_line, time_unit

UPPER, LOWER = (0.105, 0.49, 0.645, 0.345), (0.105, 0.115, 0.645, 0.30)
"""Places of the two panels in the figure."""

ONE_LEFT, ONE_RIGHT = (0.1, 0.125, 0.365, 0.67), (0.545, 0.125, 0.425, 0.67)
"""Those of trials with one hole."""

RIGHT = UPPER[0] + UPPER[2] + 0.025  # left edge of the text right of the upper and lower panel
MOST_OFF = 30.0  # limit of the residuals in the lower panel [%]; larger ones have a number
ARROWS = {1: "\N{UPWARDS ARROW}", -1: "\N{DOWNWARDS ARROW}"}
AROUND = 1.2  # factor from the outermost holes to the ends of their axis
NEAR = 5.0  # limit of the differences from a trace, over the best model's
SHIFTS = {"quasi-static": -0.02, "heave": 0.02, "corrected": 0.04, "falling": 0.0}
"""Of the models' points along ln(hole), so that all are visible."""
HOLE_TICKS = (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500)  # mm
MARKERS = {"quasi-static": "s", "heave": "o", "falling": "D", "corrected": "^"}


def fit_figure(fit: TrialFit | TraceFit) -> Figure:
    """Draw a fit on one slide; save it with :func:`sinkbowl_post.style.save_figure`."""
    if not isinstance(fit, TrialFit):
        return _trace_figure(fit)
    return one_hole_figure(fit) if len(fit.timed.holes) == 1 else _trial_figure(fit)


def _trial_figure(fit: TrialFit) -> Figure:
    best = fit.best
    message = "No model explains two neighbouring holes"
    if best.holes is not None:
        name = LINES[best.model].name.capitalize()
        message = f"{name} fits holes of {hole_range(*best.holes)}"
    words = f"{_found(best.coefficient)}{len(fit.timed.time)} trials: {fit.title}"
    with slide(message, words, fit.title) as figure:
        upper, lower = figure.add_axes(UPPER), figure.add_axes(LOWER)
        with_coefficient = [name for name, one in fit.models.items() if one.coefficient]
        for name in with_coefficient:
            _coefficients(upper, fit, name)
        for one in fit.models.values():
            _residuals(lower, fit, one)
        holes = np.array(fit.timed.holes)
        scatter = [float(np.mean(best.scatter[fit.timed.hole == d])) for d in holes]
        wide = 100 * QUANTILE * np.array(scatter)  # 95 % of the best model's residuals
        ends = np.concatenate(([holes[0] / AROUND], holes, [holes[-1] * AROUND])) * 1e3
        wide = np.pad(wide, 1, mode="edge")
        band(lower, ends, -wide, wide)
        lower.axhline(0, color=QUIET_INK, linewidth=1.4, zorder=0.5)
        for axes in (upper, lower):
            _hole_axis(axes, fit.timed.holes)
        _coefficient_range(upper, fit, with_coefficient)
        upper.set_xticklabels([])
        upper.set_ylabel("discharge\ncoefficient")
        lower.set_ylim(-MOST_OFF, MOST_OFF)
        lower.yaxis.set_major_locator(FixedLocator([-20, 0, 20]))
        lower.yaxis.set_major_formatter(lambda value, _: _signed(value))
        lower.set_ylabel("residual [%]")
        lower.set_xlabel("diameter of the hole [mm]")
        _names(figure, fit)
    return figure


def _coefficients(axes: Axes, fit: TrialFit, name: str) -> None:
    """Coefficient of each hole alone, and the common one over its range."""
    line, one = LINES[name], fit.models[name]
    known = [(hole, hole.coefficient[name]) for hole in fit.holes]
    x = np.array([hole.hole for hole, found in known if found]) * 1e3 * np.exp(SHIFTS[name])
    values = np.array([(f.value, f.half_width) for _, f in known if f]).reshape(-1, 2)
    axes.errorbar(
        x,
        values[:, 0],
        values[:, 1],
        fmt=MARKERS[name],
        color=line.colour,
        markersize=9,
        elinewidth=2,
        markerfacecolor=line.colour if name == fit.best.model else PAPER,
        markeredgewidth=2.5,
    )
    if one.holes and one.coefficient:
        ends = np.array(one.holes) * 1e3 * np.exp([-0.06, 0.06])
        band(axes, ends, one.coefficient.low, one.coefficient.high, line.colour, alpha=0.13)
        draw_line(axes, ends, [one.coefficient.value] * 2, line)


def _coefficient_range(axes: Axes, fit: TrialFit, names: list[str]) -> None:
    """Range with every hole's coefficient; wide intervals leave the panel."""
    values = [found.value for hole in fit.holes for found in hole.coefficient.values() if found]
    values += [fit.models[name].coefficient.low for name in names]  # type: ignore[union-attr]
    values += [fit.models[name].coefficient.high for name in names]  # type: ignore[union-attr]
    if values:
        room = max(0.15 * (max(values) - min(values)), 0.02)
        axes.set_ylim(min(values) - room, max(values) + room)
    axes.yaxis.set_major_locator(MaxNLocator(4, steps=ROUND))


def _residuals(axes: Axes, fit: TrialFit, one: ModelFit) -> None:
    line = LINES[one.model]
    off = 100 * (one.ratio - 1)
    x = fit.timed.hole * 1e3 * np.exp(SHIFTS[one.model])
    seen = np.abs(off) < MOST_OFF
    if one is fit.best:
        for k in np.flatnonzero(~seen):
            up = 1 if off[k] > 0 else -1
            text = f"{_signed(off[k])} % {ARROWS[up]}"
            note(axes, text, (x[k], up * MOST_OFF), (0, -6 * up), color=line.colour)
    axes.plot(
        x[seen],
        off[seen],
        MARKERS[one.model],
        color=line.colour,
        markersize=8,
        markerfacecolor=line.colour if one is fit.best else PAPER,
        markeredgewidth=2,
    )


def _hole_axis(axes: Axes, holes: tuple[float, ...]) -> None:
    low, high = holes[0] * 1e3 / AROUND, holes[-1] * 1e3 * AROUND
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    ticks = [tick for tick in HOLE_TICKS if low <= tick <= high]
    if len(ticks) < 2:
        ticks = [round(hole * 1e3, 3) for hole in holes]
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.xaxis.set_minor_locator(NullLocator())


def _names(figure: Figure, fit: TrialFit) -> None:
    """Names of the models right of the panels, each with its coefficient and range."""
    ranges = {
        n: hole_range(*one.holes) if one.holes else "excluded" for n, one in fit.models.items()
    }
    places, below = _write_models(figure, fit, ranges, aside=0.028)
    for name, (x, y) in places.items():
        axes = figure.add_axes((x - 0.028, y - 0.032, 0.02, 0.03))
        axes.axis("off")
        colour = LINES[name].colour
        face = colour if name == fit.best.model else PAPER
        axes.plot(0, 0, MARKERS[name], color=colour, markersize=10, markerfacecolor=face, mew=2.5)
    figure.text(
        RIGHT,
        min(LOWER[1] + 0.7 * LOWER[3], below),
        "measured / model - 1\ngrey: expected scatter,\n95 %".replace("-", "\N{MINUS SIGN}"),
        color=QUIET_INK,
        va="top",
    )


def _write_models(
    figure: Figure, fit: TrialFit | TraceFit, last: Mapping[str, str], aside: float = 0.0
) -> tuple[dict[str, tuple[float, float]], float]:
    """Name, coefficient and remark of each model right of the panels.

    Returns the position of each, and the height below all of them.
    """
    places, x, y = {}, RIGHT + aside, UPPER[1] + UPPER[3]
    for name, one in fit.models.items():
        found = [plus_minus(one.coefficient)] if one.coefficient else []
        places[name] = x, y
        for place, text in enumerate([LINES[name].name, *found, last[name]]):
            weight = "bold" if one is fit.best and place == 0 else "normal"
            figure.text(x, y, text, color=LINES[name].colour, weight=weight, va="top")
            y -= 0.043
        y -= 0.025
    return places, y


def _trace_figure(fit: TraceFit) -> Figure:
    best = fit.best
    words = f"{_found(best.coefficient)}{np.count_nonzero(fit.used)} instants: {fit.title}"
    with slide(f"{LINES[best.model].name.capitalize()} comes nearest", words, fit.title) as figure:
        upper, lower = figure.add_axes(UPPER), figure.add_axes(LOWER)
        t, draft = fit.trace.t[fit.used], fit.trace.draft[fit.used] * 1e3
        factor, unit = time_unit(float(t[-1] - t[0]))
        upper.plot(t * factor, draft, "o", color=INK, markersize=6, alpha=0.6)
        for name, one in fit.models.items():
            draw_line(upper, t * factor, draft - one.miss * 1e3, LINES[name])
            if one.rms_difference < NEAR * best.rms_difference:
                draw_line(lower, t * factor, one.miss * 1e3, LINES[name])
        lower.axhline(0, color=QUIET_INK, linewidth=1.4, zorder=0.5)
        most = max(3 * best.rms_difference * 1e3, 1e-3)
        lower.set_ylim(-most, most)
        room = 0.06 * float(np.ptp(draft)) or 1.0
        upper.set_ylim(float(draft.max()) + room, float(draft.min()) - room)
        for axes in (upper, lower):
            axes.yaxis.set_major_locator(MaxNLocator(4, steps=ROUND))
            round_ticks(axes.xaxis, 5)
        upper.set_xticklabels([])
        upper.set_ylabel("draft [mm],\ndownwards")
        lower.set_ylabel("difference [mm]")
        lower.set_xlabel(f"time by the trace's clock [{unit}]")
        misses = {n: f"rms {1e3 * one.rms_difference:.2g} mm" for n, one in fit.models.items()}
        _write_models(figure, fit, misses)
    return figure


def _found(coefficient: ConfidenceInterval | None) -> str:
    return "" if coefficient is None else f"discharge coefficient {plus_minus(coefficient)}, "


def _signed(value: float) -> str:
    return f"{value:+.0f}".replace("-", "\N{MINUS SIGN}") if value else "0"


def one_hole_figure(fit: TrialFit) -> Figure:
    """Draw the slide."""
    timed = fit.timed
    hole, count = timed.holes[0], len(timed.time)
    means = timed.means
    phrase = f"Hole of {hole_range(hole, hole)}"
    if len(means) == 1:
        phrase += f": rim under after {means[0].words}"
    others = f"{plural(count, 'trial')}; other holes would distinguish the models: {fit.title}"
    with slide(phrase, others, fit.title) as figure:
        _times_in_order(figure.add_axes(ONE_LEFT), fit)
        _needed_coefficients(figure.add_axes(ONE_RIGHT), fit)
    return figure


def _times_in_order(axes: Axes, fit: TrialFit) -> None:
    """All times in order, and the mean per mass with its interval behind them."""
    timed, start = fit.timed, 0
    factor, unit = time_unit(float(np.max(timed.time)))
    numbered = all(trial.number for mean in timed.means for trial in mean.trials)
    ticks: list[tuple[float, str]] = []
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
        names = (trial.number if numbered else str(trial.row) for trial in mean.trials)
        ticks += list(zip(x.tolist(), names, strict=True))
        start += len(group)
    low, high = axes.get_ylim()
    axes.set_ylim(max(0.0, low - 0.1 * (high - low)), high + 0.25 * (high - low))
    shown = ticks[:: 1 + len(ticks) // 12]
    axes.set_xticks([at for at, _ in shown], [name for _, name in shown])
    round_ticks(axes.yaxis, 5)
    axes.set_xlabel("no. in the table" if numbered else "row in the table")
    axes.set_ylabel(f"time until the rim is under [{unit}]")
    write_inside(axes, 0.02, 0.98, "grey: mean, 95 %", color=QUIET_INK, va="top")


def _needed_coefficients(axes: Axes, fit: TrialFit) -> None:
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
