"""The slide of the reference curves: sinking times left, errors of the models right.

Left the dimensionless sinking time against d/D, both logarithmic: the runs as dots with their
interval, the reduced models as lines in their colours, one model as a smooth curve with its band;
each family of one mass ratio with its marker. Right the error of each model, over bands of 2, 5 and
10 %.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, NullLocator

from sinkbowl.common.shown import plural
from sinkbowl.corrected import model as corrected
from sinkbowl.reduced import heave
from sinkbowl_post.drawing import ON_PAPER, band, panel, slide, write_inside
from sinkbowl_post.reference_curves.breakdown import LEVELS, families
from sinkbowl_post.reference_curves.points import RunPoint, models_of
from sinkbowl_post.reference_curves.smooth import SmoothFamily
from sinkbowl_post.reference_curves.trials import TrialPoint
from sinkbowl_post.style import HAIRLINE, INK, LINES, PAPER, QUIET_INK, draw_line

TIMES, MAP = (0.085, 0.135, 0.40, 0.66), (0.60, 0.135, 0.30, 0.66)
TICKS = (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0)
LONG_TICKS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
LONG = 20.0  # largest over smallest d/D of a long axis, with fewer ticks

FAMILY_MARKS = ("o", "s", "^", "v", "P", "X")
"""A marker for each mass; colours are those of the models."""

FARTHEST = 0.4  # largest deviation shown

BAND_SHADES = (0.55, 0.40, 0.30)
BAND_NAMES = ((0.02, -1), (0.05, 1), (0.10, 1))  # label of each band: at its upper or lower edge


def curves_figure(
    points: Sequence[RunPoint],
    trials: Sequence[TrialPoint] = (),
    smooth: Sequence[SmoothFamily] = (),
) -> Figure:
    """Draw the reference curves on one slide.

    points : of the runs
    trials : own trials, on both panels
    smooth : curves without runs, behind the points
    """
    titles, ratios = {point.title for point in points}, [point.hole_ratio for point in points]
    case = points[0].title if len(titles) == 1 else plural(len(titles), "bowl")
    ends = dict.fromkeys(f"{ratio:.2g}" for ratio in (min(ratios), max(ratios)))
    phrase = f"{case}: {plural(len(points), 'run')}, d/D {' to '.join(ends)}"
    with slide("Sinking time against the hole", phrase, case) as figure:
        left = panel(figure, TIMES, "sinking time T \u221a(g/H)")
        right = panel(figure, MAP, "model / flow \N{MINUS SIGN} 1 [%]")
        _smooth(left, smooth)
        drawn = {corrected.MODEL, heave.MODEL} if smooth else set[str]()
        _times(left, points, drawn)
        _map(right, points)
        if trials:
            _trials(left, right, trials)
    return figure


def _smooth(axes: Axes, smooth: Sequence[SmoothFamily]) -> None:
    """Bands and lines of the smooth curves."""
    for one in smooth:
        line = LINES[one.model]
        band(axes, one.ratio, one.low, one.high, line.colour, alpha=0.18)
        draw_line(axes, one.ratio, one.time, line)


def _times(axes: Axes, points: Sequence[RunPoint], drawn: set[str]) -> None:
    """Left panel, without models that have smooth curves."""
    groups = families(points)
    for number, (_, family) in enumerate(groups):
        for model in (name for name in models_of(family) if name not in drawn):
            known = [p for p in family if p.models.get(model) is not None]
            if known and (model != "falling" or number == 0):
                x = [p.hole_ratio for p in known]
                y = [(p.models[model] or 0.0) / p.scale for p in known]
                draw_line(axes, x, y, LINES[model])
        x = [p.hole_ratio for p in family]
        y = [p.time / p.scale for p in family]
        bars = [
            [(p.time - p.interval.low) / p.scale for p in family],
            [p.interval.half / p.scale for p in family],
        ]
        mark = FAMILY_MARKS[number % len(FAMILY_MARKS)]
        axes.errorbar(x, y, yerr=bars, fmt=mark, color=LINES["flow"].colour, ms=9, zorder=3)
    axes.set_yscale("log")
    axes.margins(y=0.12)
    _family_key(axes, groups)
    write_inside(axes, 0.04, 0.05, "\u03c1V: water displaced up to the rim", color=QUIET_INK)
    _ratio_axis(axes, points)
    axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _range(values: Sequence[float]) -> str:
    """One number, or a range, to a hundredth."""
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
        for number, (_, family) in enumerate(groups):
            drawn = [p for p in family if p.deviation(model) is not None]
            mark = FAMILY_MARKS[number % len(FAMILY_MARKS)]
            x = np.array([p.hole_ratio for p in drawn])
            y = 100.0 * np.array([p.deviation(model) for p in drawn], dtype=float)
            near = np.abs(y) <= 100.0 * FARTHEST
            if near.any():
                draw_line(axes, x[near], y[near], line, marker=mark, ms=8)
    axes.set_ylim(-100 * FARTHEST, 100 * FARTHEST)
    _ratio_axis(axes, points)
    known = [name for name in LINES if any(p.deviation(name) is not None for p in points)]
    for place, model in zip((0.94, 0.87, 0.80, 0.73), known, strict=False):
        look = {"color": LINES[model].colour, "size": 17, "weight": "bold", "bbox": ON_PAPER}
        write_inside(axes, 0.04, place, LINES[model].name, **look)


def _family_key(axes: Axes, groups: Sequence[tuple[float, Sequence[RunPoint]]]) -> None:
    """Key of markers and masses, top right, where no curve passes."""
    for number, (_, family) in enumerate(groups):
        mark, y = FAMILY_MARKS[number % len(FAMILY_MARKS)], 0.86 - 0.075 * number
        phrase = f"m/(\u03c1V) = {_range([point.mass_ratio for point in family])}"
        axes.plot(0.56, y, mark, color=LINES["flow"].colour, ms=9, transform=axes.transAxes)
        write_inside(axes, 0.60, y, phrase, va="center", bbox=ON_PAPER)


def _trials(left: Axes, right: Axes, trials: Sequence[TrialPoint]) -> None:
    """Own trials as diamonds with the bars of their 95 % intervals."""
    look: dict[str, Any] = {"color": INK, "ms": 7, "mfc": PAPER, "mew": 2, "zorder": 5}
    x = [trial.hole_ratio for trial in trials]
    y = [trial.timed.mean / trial.scale for trial in trials]
    bars = [trial.timed.half_width / trial.scale for trial in trials]
    left.errorbar(x, y, yerr=bars, fmt="D", **look)
    low, high = left.get_xlim()
    _ratio_range(left, min(low, 0.85 * min(x)), max(high, 1.12 * max(x)))
    shown = [t for t in trials if t.deviation is not None and abs(t.deviation) <= FARTHEST]
    off = [100 * (trial.deviation or 0.0) for trial in shown]
    bars = [100 * trial.timed.half_width / trial.timed.mean for trial in shown]
    right.errorbar([trial.hole_ratio for trial in shown], off, yerr=bars, fmt="D", **look)
    right.set_ylim(-100 * FARTHEST, 100 * FARTHEST)
    for axes, place, side in ((left, (0.94, 0.94), "right"), (right, (0.04, 0.66), "left")):
        write_inside(axes, *place, "\u25c7 own trials", ha=side, size=17, color=INK, bbox=ON_PAPER)


def _ratio_axis(axes: Axes, points: Sequence[RunPoint]) -> None:
    """Logarithmic axis of d/D."""
    axes.set_xscale("log")
    ratios = [point.hole_ratio for point in points]
    _ratio_range(axes, 0.85 * min(ratios), 1.12 * max(ratios))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.set_xlabel("d/D, hole over inner rim")


def _ratio_range(axes: Axes, low: float, high: float) -> None:
    """Limits and ticks of such an axis, fewer if it is long."""
    axes.set_xlim(low, high)
    ticks = LONG_TICKS if high > LONG * low else TICKS
    axes.xaxis.set_major_locator(FixedLocator([tick for tick in ticks if low <= tick <= high]))
