"""Shapes of bowls, drilling of the hole, and thickening of the wall.

Each builder returns the section of the undrilled bowl as two outlines (r, z) [m] that run from
the axis (z = 0 at the outer bottom) to the rim; `drill` then cuts both upright at the radius of
the hole. Builders raise InputRefused if there is no such bowl.
"""

from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.bowl import COINCIDENT, Bowl, first_crossing
from sinkbowl.bowl.hull import FloatArray, distance_to
from sinkbowl.common.errors import InputRefused

ARC_STEP = 2.5e-3
"""Angle [rad] of one chord of a round outline: relative error of the volume about 2e-6."""


class Outlines(NamedTuple):
    """Outer and inner outline (n, 2), (m, 2) of r, z [m], both from the hole to the rim."""

    outer: FloatArray
    inner: FloatArray


def cup(radius: float, height: float, wall: float, base: float) -> Outlines:
    """Straight upright cup: outer radius, height, wall and base thickness [m]."""
    return cone(radius, radius, height, wall, base)


def cone(radius: float, base_radius: float, height: float, wall: float, base: float) -> Outlines:
    """Flat base and a straight slanted wall.

    radius, base_radius : outer radius at the rim and at the base [m]
    height : outer height [m]
    wall : thickness perpendicular to the wall [m]
    base : thickness of the flat base [m]

    Raises InputRefused if wall or base leave no room inside.
    """
    slope = (radius - base_radius) / height
    reach = wall * np.hypot(1.0, slope)
    foot, lip = base_radius + slope * base - reach, radius - reach
    if base >= height:
        raise InputRefused("is as thick as the bowl is high", "Give a thinner base.", "base")
    if min(foot, lip) <= COINCIDENT:
        raise _wall_too_thick()
    outer = np.array([(0.0, 0.0), (base_radius, 0.0), (radius, height)])
    inner = np.array([(0.0, base), (foot, base), (lip, height)])
    return Outlines(outer, inner)


def cap(radius: float, height: float, wall: float) -> Outlines:
    """Spherical cap with a concentric inner sphere, its rim cut flat.

    radius : outer radius at the rim [m]
    height : outer height [m]; above `radius` the bowl is more than half a sphere
    wall : thickness, measured along the sphere's radius [m]

    Raises InputRefused if the wall leaves no room inside.
    """
    sphere = (radius**2 + height**2) / (2.0 * height)
    if wall >= height or sphere - wall <= abs(sphere - height) + COINCIDENT:
        raise _wall_too_thick()
    return Outlines(_arc(sphere, sphere, height), _arc(sphere - wall, sphere, height))


def profile(outline: FloatArray, wall: float) -> Outlines:
    """Free outer outline (n, 2) with a wall of constant thickness inside it, the rim cut flat.

    An outline that begins away from the axis is continued flat to it (`blank` decides whether that
    is meant). The inner outline is the outer one moved perpendicularly by `wall`. Raises
    InputRefused if the outline does not rise to its rim or bends too tightly for the wall.
    """
    outer = _to_the_axis(outline[np.append(True, np.any(np.diff(outline, axis=0) != 0.0, axis=1))])
    if outer[-1, 1] < outer[:, 1].max() or outer[-1, 1] - outer[:, 1].min() <= wall:
        raise InputRefused(
            "has no rim above its base",
            "The last point must be the rim, and the rim the highest point.",
            "profile",
        )
    crossing = first_crossing(outer)
    if crossing is not None:
        raise InputRefused(f"crosses itself near {_place(crossing)}", key="profile")
    outer = outer - [0.0, outer[:, 1].min()]
    return Outlines(outer, offset_inwards(outer, wall))


def two_sided(outer: FloatArray, inner: FloatArray) -> Outlines:
    """Both outlines (n, 2), (m, 2) as given, from the hole or the axis to the same rim.

    As in `profile` they are continued flat to the axis.
    """
    down = [0.0, outer[:, 1].min()]
    return Outlines(_to_the_axis(outer - down), _to_the_axis(inner - down))


def drill(section: Outlines, hole_radius: float) -> Outlines:
    """Cut both outlines vertically at the radius of the hole [m]; 0: no hole."""
    return Outlines(*(_cut_at_radius(outline, hole_radius) for outline in section))


def offset_inwards(outer: FloatArray, wall: float) -> FloatArray:
    """Outline at distance `wall` [m] inside an outer one that runs from the axis to the rim.

    Every segment is moved to its left and neighbours are joined where they meet; segments that
    vanish in a bend tighter than the wall are left out. Ends on the axis and at the rim's height.
    """
    start, along = outer[:-1], np.diff(outer, axis=0)
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    moved = start + wall * np.column_stack((-along[:, 1], along[:, 0]))
    rim = np.array([[0.0, outer[-1, 1]]]), np.array([[-1.0, 0.0]])
    axis = np.array([[0.0, 0.0]]), np.array([[0.0, -1.0]])
    moved, along = np.vstack((axis[0], moved, rim[0])), np.vstack((axis[1], along, rim[1]))
    while True:
        joints = _meet(moved, along)
        if not np.all(np.isfinite(joints)):
            raise InputRefused(
                "runs along the axis, or horizontally into the rim: no wall can be cut there",
                "The outline must leave the axis horizontally and rise to the rim.",
                "profile",
            )
        forward = np.sum(np.diff(joints, axis=0) * along[1:-1], axis=1) >= 0.0
        if np.all(forward):
            break
        if not np.any(forward):
            raise _wall_too_thick()
        keep = np.concatenate(([True], forward, [True]))
        moved, along = moved[keep], along[keep]
    _check_distance(joints, outer, wall)
    return joints


def thinnest_oblique_wall(bowl: Bowl) -> float:
    """Minimum thickness [m] of the oblique parts of the wall.

    Infinite if the whole wall is upright or level.
    """
    least = np.inf
    for a, b in zip(bowl.inner[:-1], bowl.inner[1:], strict=True):
        if np.min(np.abs(b - a)) > 1e-9:
            for s in (0.0, 0.5, 1.0):
                least = min(least, distance_to(a + s * (b - a), bowl.outer))
    return float(least)


def thicken_inwards(bowl: Bowl, amount: float) -> Bowl:
    """The bowl with its inner outline moved inwards by `amount` [m], mitred at its bends.

    Both ends slide along their segments to the hole's radius and to the rim's height.
    """
    inner = bowl.inner
    step = np.diff(inner, axis=0)
    step /= np.hypot(*step.T)[:, None]
    before, after = np.vstack((step[:1], step)), np.vstack((step, step[-1:]))
    mean = 0.5 * (before + after)
    mitre = mean / np.einsum("ij,ij->i", mean, mean)[:, None]
    moved = inner + amount * np.column_stack((-mitre[:, 1], mitre[:, 0]))
    moved[0] += _slide(step[0], 0, bowl.hole_radius - moved[0, 0])
    moved[-1] += _slide(step[-1], 1, bowl.rim_height - moved[-1, 1])
    inside = (moved[1:-1, 0] > bowl.hole_radius) & (moved[1:-1, 1] < bowl.rim_height)
    kept = np.vstack((moved[:1], moved[1:-1][inside], moved[-1:]))
    return Bowl.from_outlines(bowl.outer, kept, bowl.mass)


def _slide(direction: FloatArray, axis: int, by: float) -> FloatArray:
    """Step along a direction that changes the coordinate `axis` by `by`."""
    return np.asarray(direction * (by / direction[axis]) if direction[axis] != 0.0 else 0.0)


def _to_the_axis(outline: FloatArray) -> FloatArray:
    """An outline continued flat to the axis where it begins away from it."""
    if outline[0, 0] <= COINCIDENT:
        return outline
    return np.vstack(([0.0, outline[0, 1]], outline))


def _arc(sphere: float, centre: float, height: float) -> FloatArray:
    """Arc of a sphere about (0, centre) from its lowest point up to a height, (n, 2)."""
    last = np.arccos((centre - height) / sphere)
    angle = np.linspace(0.0, last, int(np.ceil(last / ARC_STEP)) + 1)
    points = np.column_stack((sphere * np.sin(angle), centre - sphere * np.cos(angle)))
    points[-1, 1] = height
    return points


def _cut_at_radius(outline: FloatArray, radius: float) -> FloatArray:
    """Outline from its first point at a radius; InputRefused if it does not reach it."""
    beyond = np.flatnonzero(outline[:, 0] >= radius - COINCIDENT)
    if beyond.size == 0:
        widest = 2e3 * outline[:, 0].max()
        raise InputRefused(
            f"is wider than the inside of the bowl ({widest:.4g} mm)", "Give a narrower hole."
        )
    k = int(beyond[0])
    (r0, z0), (r1, z1) = outline[max(k - 1, 0)], outline[k]
    if r1 <= radius + COINCIDENT:
        return np.vstack(([radius, z1], outline[k + 1 :]))
    share = (radius - r0) / (r1 - r0)
    return np.vstack(([radius, z0 + share * (z1 - z0)], outline[k:]))


def _meet(point: FloatArray, along: FloatArray) -> FloatArray:
    """Intersections (n-1, 2) of each line with the next; midpoints if they are parallel."""
    p, d, q, e = point[:-1], along[:-1], point[1:], along[1:]
    turn = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
    parallel = np.abs(turn) < 1e-12
    gap = q - p
    s = (gap[:, 0] * e[:, 1] - gap[:, 1] * e[:, 0]) / np.where(parallel, 1.0, turn)
    same_line = np.abs(gap[:, 0] * d[:, 1] - gap[:, 1] * d[:, 0]) < COINCIDENT
    on_line = np.where(same_line[:, None], q, np.nan)
    return np.where(parallel[:, None], on_line, p + s[:, None] * d)


def _check_distance(inner: FloatArray, outer: FloatArray, wall: float) -> None:
    """Raise InputRefused if the inner outline is closer to the outer one than the wall."""
    for point in inner:
        if distance_to(point, outer) < wall * (1.0 - 1e-6) or point[0] < -COINCIDENT:
            raise InputRefused(
                f"is too thick for the bend of the outline near {_place(point)}",
                "Give a thinner wall, or draw a wider bend.",
                "wall",
            )


def _place(point: FloatArray | tuple[float, float]) -> str:
    return f"r = {point[0] * 1e3:.4g} mm, z = {point[1] * 1e3:.4g} mm"


def _wall_too_thick() -> InputRefused:
    return InputRefused("is so thick that there is no room inside", "Give a thinner wall.", "wall")
