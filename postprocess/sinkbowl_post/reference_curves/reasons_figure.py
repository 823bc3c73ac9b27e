"""The slide of causes of each model's difference from the flow, over the hole.

One bar per run, its causes stacked upwards if they make the model too slow and downwards if too
quick, in per cent of the flow's time. A diamond is the total difference, with the 95 % interval of
the flow's time; it is hollow and has no bar if the difference is inside.
"""

from collections.abc import Mapping, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sinkbowl.common.errors import ResultError
from sinkbowl.reduced import heave, quasi_static
from sinkbowl_post.comparing.reasons import HOLE, REMAINDER, REST, causes, explains
from sinkbowl_post.drawing import EndName, panel, slide, write_end_names, write_inside
from sinkbowl_post.reference_curves.breakdown import families
from sinkbowl_post.reference_curves.points import RunPoint
from sinkbowl_post.style import INK, LINES, PAPER, QUIET_INK

MODELS = (quasi_static.MODEL, heave.MODEL)

COLOURS = {
    HOLE: "#0A4A86",
    "bowl out of balance": "#D9822B",
    "jet reaction": "#D9822B",
    "water aloft": "#7DB8DA",
    "water inside": "#7DB8DA",
    "closed-off air": "#E8A48C",
    "added mass": "#8A2A6B",
    "drag": "#3A8F7D",
    "waves": "#E0C15A",
    REST: "#8A8F98",
    REMAINDER: "#C9CDD2",
}
"""Colour of each cause; neighbours in a stack also differ in lightness."""

NAMED = 0.02  # minimum share of a panel's height of a named cause

BOXES = ((0.075, 0.175, 0.29, 0.60), (0.555, 0.175, 0.29, 0.60))
WIDTH = 0.66


def reasons_figure(points: Sequence[RunPoint]) -> Figure:
    """Draw the causes of the family with the most runs that have them.

    Raises ResultError if no run has any.
    """
    ratio, family = max(families(points), key=lambda group: len(_known(group[1])))
    runs = _known(family)
    if not runs:
        raise ResultError(
            "No run here has the causes of a model's difference. Give the result files: tables of "
            "earlier versions do not have them."
        )
    case = f"{runs[0].title}, m/\u03c1V {ratio:.2f}"
    phrase = f"{case}; diamonds: total, hollow inside the flow's interval, 95 %"
    with slide("Causes of the difference between model and flow", phrase, runs[0].title) as figure:
        for box, model in zip(BOXES, MODELS, strict=True):
            heading, colour = f"{LINES[model].name} minus flow [% of the time]", LINES[model].colour
            _panel(panel(figure, box, heading, color=colour, weight="bold"), runs, model)
        words = "up: it makes the model too slow;  down: too quick"
        figure.text(0.03, 0.025, words, size=16, color=QUIET_INK)
    return figure


def _known(family: Sequence[RunPoint]) -> list[RunPoint]:
    return [run for run in family if any(one is not None for one in run.reasons.values())]


def _panel(axes: Axes, runs: Sequence[RunPoint], model: str) -> None:
    """Bars of one model."""
    drawn: dict[str, list[tuple[float, float]]] = {}
    lowest, highest = 0.0, 0.0
    for place, run in enumerate(runs):
        one = run.reasons.get(model)
        if one is None:
            continue
        per_cent = 100.0 / run.time
        explained = explains(one, run.interval.half)
        if explained:
            ends = _stack(axes, place, {n: t * per_cent for n, t in causes(one).items()}, drawn)
            lowest, highest = min(lowest, ends[0]), max(highest, ends[1])
        half = run.interval.half * per_cent
        total = one.total * per_cent
        for colour, wider in ((PAPER, 3.0), (INK, 0.0)):
            axes.errorbar(
                place,
                total,
                yerr=half,
                fmt="D",
                color=colour,
                mfc=INK if explained else PAPER,
                ms=9 + wider,
                mew=1.5,
                lw=2.5 + wider,
                capsize=5,
                zorder=4,
            )
        lowest, highest = min(lowest, total - half), max(highest, total + half)
    axes.axhline(0.0, color=INK, lw=1.6)
    room = 0.08 * max(highest - lowest, 1.0)
    axes.set_ylim(lowest - room, highest + (room if drawn else 3.0 * room))
    axes.set_xlim(-0.7, len(runs) - 0.3)
    axes.set_xticks(range(len(runs)), [f"{100 * run.hole_ratio:.0f}" for run in runs], size=16)
    axes.set_xlabel("hole over bowl, d/D [%]")
    if drawn:
        _names(axes, drawn, highest - lowest + 2 * room)
        return
    known = any(run.reasons.get(model) for run in runs)
    words = "no difference\noutside the interval" if known else "unknown from these runs"
    write_inside(axes, 0.5, 0.9, words, size=17, ha="center", color=QUIET_INK)
    if not known:
        axes.set_yticks([])


def _stack(
    axes: Axes, place: int, parts: Mapping[str, float], drawn: dict[str, list[tuple[float, float]]]
) -> tuple[float, float]:
    """Draw one bar, record the position of each part, and return its ends."""
    ends = {True: 0.0, False: 0.0}
    for name, value in parts.items():
        up = value > 0.0
        axes.bar(
            place,
            value,
            WIDTH,
            bottom=ends[up],
            color=COLOURS[name],
            edgecolor=PAPER,
            linewidth=0.8,
        )
        drawn.setdefault(name, []).append((ends[up] + 0.5 * value, abs(value)))
        ends[up] += value
    return ends[False], ends[True]


def _names(axes: Axes, drawn: Mapping[str, list[tuple[float, float]]], height: float) -> None:
    """Names of the causes at the right, at their height in the last bar."""
    names = [
        EndName(name.replace(" of ", "\nof "), _readable(name), places[-1][0])
        for name, places in drawn.items()
        if max(size for _, size in places) > NAMED * height
    ]
    if names:
        write_end_names(axes, names, 17.0)


def _readable(name: str) -> str:
    """Colour of a name on paper: that of its bars, darker if those are light."""
    darker = {
        "water aloft": "#2C7FAF",
        "water inside": "#2C7FAF",
        "closed-off air": "#B4532F",
        "waves": "#94781B",
        REST: QUIET_INK,
        REMAINDER: QUIET_INK,
    }
    return darker.get(name, COLOURS[name])
