"""Row of small sections of a bowl that tips, until a rim point is under.

Each shows the bowl cut in the plane of its heel, at its equilibrium heel, with the water outside
and inside, at one scale and with aligned outer surfaces.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from shapely import Polygon as Area
from shapely import box, get_parts

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.statics.flooding import Flooding
from sinkbowl.statics.heel import LEAST_HEEL, heeled_water
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl_post.drawing import Solid, solids_of
from sinkbowl_post.style import AIR, INK, LOW_TO_HIGH, SLIDE, SURFACE_LINE

ROW = (0.03, 0.065, 0.94, 0.36)  # place of the row in the figure
WORDS = 0.66  # space above each section for its caption [inches]

WATER, INNER_WATER = LOW_TO_HIGH[1], LOW_TO_HIGH[2]


@dataclass(frozen=True)
class Pose:
    """A bowl at one filling: inner level when upright [m], heel [rad], and caption."""

    inner_level: float
    heel: float
    words: str


def poses(case: Case, found: Flooding) -> list[Pose]:
    """Four fillings; for a bowl unstable from the start, four heels of its roll."""
    level, heel = found.inner_level, found.heel
    if level.size == 1:
        parts = zip(
            ("set down", "unstable at every heel", "it heels further"),
            (0.0, 1 / 3, 2 / 3),
            strict=True,
        )
        rolling = [Pose(found.level, part * found.flooding_heel, words) for words, part in parts]
        return [*rolling, Pose(found.level, found.flooding_heel, "a rim point is under")]
    upright, most, last = heel[0] == 0.0, int(np.argmax(heel[:-1])), level.size - 1
    second = found.begins if upright else max(1, (most if most > 1 else last) // 2)
    third = most if most > second else (second + last + 1) // 2
    chosen = (
        (0, "set down" if upright else "set down, it heels"),
        (second, "starts to heel" if upright else "heels further"),
        (third, "heels most" if third == most else "heels further"),
        (last, "a rim point is under"),
    )
    return [Pose(float(level[k]), float(heel[k]), words) for k, words in chosen]


def flooding_row(figure: Figure, case: Case, found: Flooding) -> None:
    """Draw the row at the foot of a slide."""
    drawn = [(pose, *_section(case, pose)) for pose in poses(case, found)]
    points = np.vstack([solid.outline for _, solids, _ in drawn for solid in solids])
    wide, tall = ROW[2] * SLIDE[0] / len(drawn), ROW[3] * SLIDE[1]
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    across = max(float(np.ptp(_stacked(solids)[:, 0])) for _, solids, _ in drawn)
    scale = max(1.12 * across / wide, 1.12 * (high - low) / (tall - WORDS))  # mm an inch
    bottom = low - 0.06 * (high - low)
    for k, (pose, solids, inside) in enumerate(drawn):
        place = (ROW[0] + k * ROW[2] / len(drawn), ROW[1], 0.97 * ROW[2] / len(drawn), ROW[3])
        axes = figure.add_axes(place, label=f"heel {k + 1}")
        x = _stacked(solids)[:, 0]
        middle, half = 0.5 * float(x.min() + x.max()), 0.5 * 0.97 * scale * wide
        axes.set(xlim=(middle - half, middle + half), ylim=(bottom, bottom + scale * tall))
        axes.axis("off")
        _draw(axes, solids, inside)
        _tell(axes, case, pose)


def _stacked(solids: list[Solid]) -> FloatArray:
    return np.vstack([solid.outline for solid in solids])


def _section(case: Case, pose: Pose) -> tuple[list[Solid], tuple[FloatArray, float]]:
    """Outlines of the solids and of the space inside, heeled, heights from the outer surface [mm].

    The space inside comes with the height of the inner level.
    """
    bowl, heel = case.bowl, max(pose.heel, LEAST_HEEL)
    draft = draft_at(case, pose.inner_level)
    assert draft is not None  # a bowl that tips is not under
    outer = heeled_water(bowl.outer_hull, float(bowl.outer_volume(draft)), heel).level
    volume = float(bowl.inner_volume(bowl.inner_edge_height + pose.inner_level))
    inner = heeled_water(bowl.inner_hull, volume, heel).level if volume > 0.0 else -np.inf

    def heeled(outline: FloatArray, side: int = 1) -> FloatArray:
        x, z = side * outline[:, 0], outline[:, 1]
        down = z * np.cos(heel) - x * np.sin(heel) - outer
        return 1e3 * np.column_stack((x * np.cos(heel) + z * np.sin(heel), down))

    solids = [
        replace(solid, outline=heeled(solid.outline, side))
        for solid in solids_of(case)
        for side in (1, -1)
    ]
    room = np.vstack((bowl.inner, (bowl.inner * (-1, 1))[::-1]))
    return solids, (heeled(room), 1e3 * (inner - outer))


def _draw(axes: Axes, solids: list[Solid], inside: tuple[FloatArray, float]) -> None:
    """Water outside, air and water inside, the solids and the outer surface."""
    (left, right), bottom = axes.get_xlim(), axes.get_ylim()[0]
    room, level = inside
    axes.add_patch(Rectangle((left, bottom), right - left, -bottom, color=WATER, lw=0))
    axes.plot([left, right], [0, 0], color=SURFACE_LINE, lw=1.6)
    axes.add_patch(Polygon(room, closed=True, color=AIR, lw=0, zorder=2.1))
    if np.isfinite(level):
        low, high = room.min(axis=0) - 1.0, room.max(axis=0) + 1.0
        wet = Area(room).buffer(0).intersection(box(low[0], low[1], high[0], max(level, low[1])))
        for part in get_parts(wet):
            if isinstance(part, Area) and part.area:
                style = {"fc": INNER_WATER, "ec": INNER_WATER, "lw": 0.6, "zorder": 2.2}
                axes.add_patch(Polygon(np.asarray(part.exterior.coords), closed=True, **style))
    for solid in solids:
        face, edge = solid.colours
        style = {"fc": face, "ec": edge, "lw": 1.2, "joinstyle": "round", "zorder": 2.3}
        axes.add_patch(Polygon(solid.outline, closed=True, **style))


def _tell(axes: Axes, case: Case, pose: Pose) -> None:
    """Caption of a section, its heel and its filling."""
    dry = pose.inner_level <= -case.bowl.base_thickness
    level = "dry" if dry else f"level {max(pose.inner_level, 0.0) * 1e3:.1f} mm"
    top: dict[str, Any] = {"transform": axes.transAxes, "ha": "center", "va": "top"}
    axes.text(0.5, 1.0, pose.words, size=17, weight="bold", color=INK, **top)
    axes.text(0.5, 0.875, f"{np.degrees(pose.heel):.0f} deg, {level}", size=16, color=INK, **top)
