"""Figure of a check: the empty bowl afloat with its centres, and its stability while it fills.

Left the section at the dry draft with the centre of gravity G, of buoyancy B and the metacentre M;
right the metacentric height against the inner level, from dry to the rim or to rest. Where it is
negative the bowl heels; without an equilibrium heel it tips. Below, for a bowl that tips, sections
until a rim point is under.
"""

from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import MaxNLocator

from sinkbowl.case.case import Case
from sinkbowl.statics.flooding import Flooding, flooding
from sinkbowl.statics.hydrostatics import floats
from sinkbowl.statics.stability import (
    Centres,
    StabilityCurve,
    centre_of_weight,
    centres,
    stability_curve,
)
from sinkbowl_post.check.flooding_row import flooding_row
from sinkbowl_post.drawing import draw_solids, note, slide, solids_of, spread
from sinkbowl_post.style import AIR, HAIRLINE, INK, LINES, LOW_TO_HIGH, PAPER, QUIET_INK, SLIDE

SECTION, CURVE = (0.03, 0.075, 0.585, 0.765), (0.70, 0.165, 0.27, 0.61)
"""Places of the two panels in the figure."""

HIGHER_SECTION, HIGHER_CURVE = (0.03, 0.455, 0.585, 0.39), (0.70, 0.555, 0.27, 0.24)
"""The same above the row of a bowl that tips."""

NAMES = 2.3  # space right of the section for the names of the centres [inches]
LABEL_GAP = 0.6  # minimum distance of two such names [inches]

WATER, UNSTABLE = LOW_TO_HIGH[1], LINES["heave"].colour


def check_figure(case: Case) -> Figure:
    """Draw a check on one slide; save it with :func:`sinkbowl_post.style.save_figure`."""
    points = None if case.base_gone else centres(case)
    curve = stability_curve(case)
    dips = flooding(case) if curve is not None and curve.tips else None
    words = f"{case.title}, {case.total_mass * 1e3:.0f} g"
    with slide(message(case, points, curve, dips), words, case.title) as figure:
        _section(figure.add_axes(HIGHER_SECTION if dips else SECTION), case, points)
        if curve is not None:
            _stability(figure.add_axes(HIGHER_CURVE if dips else CURVE), curve, case)
        if dips is not None:
            flooding_row(figure, case, dips)
    return figure


def message(
    case: Case, points: Centres | None, curve: StabilityCurve | None, dips: Flooding | None = None
) -> str:
    """Heading of the figure."""
    if case.base_gone:
        return "No base: the bowl neither floats nor fills"
    if points is None or curve is None:
        return "Goes under at once: too heavy to float even when dry"
    if dips is not None:
        when = "when it is set down" if dips.inner_level.size == 1 else "while it fills"
        return f"Tips {when}: its rim dips at {np.degrees(dips.flooding_heel):.0f} deg"
    if curve.tips:
        return "Tips while it fills"
    if curve.minimum < 0.0:
        heel = np.degrees(np.nanmax(curve.heel))
        return f"Heels by at most {heel:.0f} deg, then rights itself"
    return f"Upright throughout: metacentric height {_plain(curve.minimum * 1e3)} mm or more"


def _section(axes: Axes, case: Case, points: Centres | None) -> None:
    """The bowl cut open, afloat, heights from the water surface [mm]."""
    draft = points.draft if points else 0.0
    solids = [
        replace(solid, outline=1e3 * (solid.outline - (0.0, draft))) for solid in solids_of(case)
    ]
    reach = 1.12 * max(float(solid.outline[:, 0].max()) for solid in solids)
    low = min(float(solid.outline[:, 1].min()) for solid in solids)
    high = 1e3 * (max(case.bowl.rim_height, points.metacentre if points else 0.0) - draft)
    _frame(axes, reach, low, high)
    bottom = axes.get_ylim()[0]
    if points:
        axes.add_patch(Rectangle((-reach, bottom), 2 * reach, -bottom, color=WATER, lw=0))
        inside = 1e3 * (case.bowl.inner - (0.0, draft))
        across = np.vstack((inside, (inside * (-1, 1))[::-1]))
        axes.add_patch(Polygon(across, closed=True, color=AIR, lw=0))
    draw_solids(axes, solids, joinstyle="round")
    axes.plot([0, 0], [low - 5, high + 5], color=QUIET_INK, lw=1, dashes=(8, 3, 1, 3), zorder=1.5)
    if points:
        _centres(axes, points, reach)
    else:
        z = centre_of_weight(case) * 1e3
        axes.plot(0, z, "o", color=INK, markersize=13)
        note(axes, "centre of gravity G", (0, z), (14, 0), size=17)


def _frame(axes: Axes, reach: float, low: float, high: float) -> None:
    """Set equal scales with space for the section, the names, water and air."""
    place = axes.get_position()
    wide, tall = place.width * SLIDE[0], place.height * SLIDE[1]
    scale = max(2 * reach / (wide - NAMES), 1.25 * (high - low) / tall)  # mm an inch
    spare = scale * tall - (high - low)
    axes.set_ylim(low - 0.6 * spare, high + 0.4 * spare)
    middle = 0.5 * NAMES * scale
    axes.set_xlim(middle - 0.5 * scale * wide, middle + 0.5 * scale * wide)
    axes.axis("off")


def _centres(axes: Axes, points: Centres, reach: float) -> None:
    """G, B and M on the axis, their names right of the bowl, and GM left of the axis."""
    heights = (points.metacentre, points.weight, points.buoyancy)
    m, g, b = (1e3 * (z - points.draft) for z in heights)
    named = [
        (b, "centre of buoyancy B", "s", 18, LINES["flow"].colour),
        (g, "centre of gravity G", "o", 13, INK),
        (m, "metacentre M", "^", 13, UNSTABLE if m < g else LINES["falling"].colour),
    ]
    for z, _, marker, width, colour in named:
        axes.plot(0, z, marker, color=colour, markersize=width, mec=PAPER, mew=1.5, zorder=4)
    named.sort(key=lambda one: one[0])
    bottom, top = axes.get_ylim()
    gap = LABEL_GAP * (top - bottom) / (axes.get_position().height * SLIDE[1])
    ends = bottom + 0.5 * gap, top - 0.5 * gap
    places = spread([z for z, *_ in named], gap, *ends)
    for (z, name, *_, colour), height in zip(named, places, strict=True):
        line = [0, 1.03 * reach, 1.10 * reach], [z, z, height]
        axes.plot(*line, color=colour, lw=1.4, zorder=3)
        side = "below" if z < 0.0 else "above"
        words = f"{name}\n{_plain(abs(z))} mm {side} water"
        axes.text(1.13 * reach, height, words, color=colour, va="center", linespacing=1.05)
    _span(axes, g, m, reach)


ROOM_FOR_NAME = 115.0
"""Half-width of a bowl from which the metacentric height's name fits inside [pt]."""


ROOM_FOR_HEADS = 30.0
"""Distance of G and M from which the line between them has heads [pt]."""


def _span(axes: Axes, g: float, m: float, reach: float) -> None:
    """Dimension line of the metacentric height between G and M; its name left of a narrow bowl."""
    x = -0.16 * reach
    across = axes.transData.transform([(0.0, 0.0), (reach, 0.0)])[:, 0]
    roomy = (across[1] - across[0]) * 72.0 / axes.figure.dpi > ROOM_FOR_NAME
    for z in (g, m):
        axes.plot([x - 0.03 * reach, 0], [z, z], color=QUIET_INK, linewidth=1.2, zorder=3)
    ends = axes.transData.transform([(0.0, g), (0.0, m)])[:, 1]
    apart = abs(ends[1] - ends[0]) * 72.0 / axes.figure.dpi > ROOM_FOR_HEADS
    look = {"arrowstyle": "<|-|>" if apart else "-", "color": INK, "lw": 1.8}
    axes.annotate("", (x, m), (x, g), arrowprops=look, zorder=3)
    if not roomy:
        axes.plot([-1.1 * reach, x], [0.5 * (g + m)] * 2, color=INK, lw=1.4, zorder=3)
    axes.text(
        x - 0.05 * reach if roomy else -1.13 * reach,
        0.5 * (g + m),
        f"GM\n{_plain(m - g)} mm",
        ha="right",
        va="center",
        weight="bold",
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 2},
        zorder=3,
    )


def _stability(axes: Axes, curve: StabilityCurve, case: Case) -> None:
    """Metacentric height against the inner level [mm]."""
    level, height = curve.inner_level * 1e3, curve.metacentric_height * 1e3
    low, high = min(float(height.min()), 0.0), max(float(height.max()), 0.0)
    short = axes.get_position().height < CURVE[3]
    room = (0.45 if short else 0.12) * (high - low)
    # the name of the minimum is below it, clear of the axis' numbers
    close = float(height.min()) < room
    axes.set_ylim(low - (room if close else 0.0), high + room)
    axes.set_xlim(min(level[0], 0.0), max(float(level[-1]), 1e-3) * 1.03)
    axes.axhline(0, color=QUIET_INK, linewidth=1.4)
    if low < 0:
        axes.axhspan(low - room, 0, color=UNSTABLE, alpha=0.10, lw=0)
        axes.fill_between(level[1:], np.minimum(height[1:], 0), color=UNSTABLE, alpha=0.35, lw=0)
        word = "tips" if curve.tips else "heels"
        axes.text(
            0.98, 0.03, word, transform=axes.transAxes, color=UNSTABLE, weight="bold", ha="right"
        )
    colour = LINES["flow"].colour
    axes.plot(level[:2], height[:2], color=colour, linewidth=2, dashes=(1.5, 1.5))
    axes.plot(level[1:], height[1:], color=colour, linewidth=4.5)
    axes.plot(level[0], height[0], "o", color=colour, markersize=10, clip_on=False)
    _note(axes, level[0], height[0], "dry", (12, 8), colour)
    at, least = curve.level_at_minimum * 1e3, curve.minimum * 1e3
    axes.plot(at, least, "o", color=INK, markersize=10, clip_on=False)
    late = at > 0.6 * axes.get_xlim()[1]
    _note(axes, at, least, f"minimum {_plain(least)} mm", (-10 if late else 12, -24), INK)
    axes.set_xlabel("inner level [mm]")
    axes.set_title("metacentric height GM [mm]", loc="left", size=18, pad=12)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
        axis.set_major_formatter(lambda value, _: f"{value:g}".replace("-", "\N{MINUS SIGN}"))
    end = "at rest" if floats(case) else "rim under"
    axes.plot([level[-1]] * 2, [0, height[-1]], color=HAIRLINE, linewidth=2, zorder=0)
    _note(axes, level[-1], 0.0, end, (-8, -22 if short else 8), QUIET_INK)


def _note(
    axes: Axes, x: float, y: float, text: str, offset: tuple[float, float], colour: str
) -> None:
    box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.7, "pad": 0.5}
    note(axes, text, (x, y), offset, size=17, va="baseline", color=colour, zorder=5, bbox=box)


def _plain(value: float) -> str:
    return _signed(value).lstrip("+")


def _signed(value: float) -> str:
    text = f"{value:+.1f}" if abs(value) < 10 else f"{value:+.0f}"
    return text.replace("-", "\N{MINUS SIGN}")
