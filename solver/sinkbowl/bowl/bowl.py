"""The bowl: a homogeneous shell of revolution with a straight hole through its base.

Bowl frame: r from the axis, z upwards, z = 0 at the lowest outer point. Two outlines describe
the shell, both from the hole's edge to the rim; volumes, centroid and waterplanes follow from
them exactly on the polyline (Pappus and Green, see `hull`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from shapely import LinearRing, LineString, Polygon, STRtree, contains_xy, linestrings

from sinkbowl.bowl.hull import FloatArray, Hull
from sinkbowl.common.numerics import frozen

COINCIDENT = 1e-9  # two points closer than this [m] are one point
AT_ONCE = 256  # segments compared with all others at a time; bounds the memory

SHORTEST_STRAIGHT = 1e-3
"""A wall counts as straight if it is at least this share of the rim radius long."""


@dataclass(frozen=True, eq=False)
class Bowl:
    """Shell of revolution with a hole.

    Attributes
    ----------
    outer : (n, 2) outer outline r, z [m] from the hole's outer edge to the outer rim
    inner : (m, 2) inner outline r, z [m] from the hole's inner edge to the inner rim
    mass : mass of the bowl alone [kg]

    Notes
    -----
    Use `from_outlines`, which checks the outlines and brings them into the bowl frame. Heights
    given to and returned by the methods are in the bowl frame; all methods are vectorised.
    """

    outer: FloatArray
    inner: FloatArray
    mass: float

    @classmethod
    def from_outlines(cls, outer: ArrayLike, inner: ArrayLike, mass: float) -> Bowl:
        """Build a bowl from two outlines and move it so that its lowest outer point is z = 0.

        outer, inner : (n, 2) and (m, 2) points r, z [m] from the hole's edge to the rim; both
            begin at the hole's radius (0: no hole) and end at the rim's height
        mass : mass of the bowl [kg], > 0

        Raises ValueError if the outlines do not enclose a simple solid section, or the mass is not
        positive and finite.
        """
        outer, inner = _as_outline(outer, "outer"), _as_outline(inner, "inner")
        if not (np.isfinite(mass) and mass > 0.0):
            raise ValueError(f"the bowl's mass must be positive, not {mass} kg")
        if abs(outer[0, 0] - inner[0, 0]) > COINCIDENT:
            raise ValueError("both outlines must begin at the radius of the hole")
        if abs(outer[-1, 1] - inner[-1, 1]) > COINCIDENT:
            raise ValueError("both outlines must end at the height of the rim")
        if max(outer[:, 1].max(), inner[:, 1].max()) > outer[-1, 1] + COINCIDENT:
            raise ValueError("the rim must be the highest point of both outlines")
        if outer[-1, 1] - outer[:, 1].min() <= COINCIDENT:
            raise ValueError("the bowl must have a height")
        inner[0, 0], inner[-1, 1] = outer[0, 0], outer[-1, 1]
        lowest = outer[:, 1].min()
        outer[:, 1] -= lowest
        inner[:, 1] -= lowest
        bowl = cls(frozen(outer), frozen(inner), float(mass))
        _check_section(bowl.polygon)
        return bowl

    def weighing(self, mass: float) -> Bowl:
        """The same bowl with another mass [kg]; results that depend on the outlines are kept."""
        other = replace(self, mass=mass)
        other.__dict__.update({**self.__dict__, "mass": mass})
        return other

    @property
    def hole_radius(self) -> float:
        """Radius of the hole [m], 0 where there is none."""
        return float(self.outer[0, 0])

    @property
    def rim_height(self) -> float:
        """Height of the rim above the lowest outer point [m]."""
        return float(self.outer[-1, 1])

    @property
    def rim_radius(self) -> float:
        """Outer radius at the rim [m]."""
        return float(self.outer[-1, 0])

    @property
    def outer_edge_height(self) -> float:
        """Height of the hole's outer (lower) edge [m]."""
        return float(self.outer[0, 1])

    @property
    def inner_edge_height(self) -> float:
        """Height of the hole's inner (upper) edge [m]; inner levels are counted from here."""
        return float(self.inner[0, 1])

    @property
    def base_thickness(self) -> float:
        """Length of the hole through the base [m]."""
        return self.inner_edge_height - self.outer_edge_height

    @cached_property
    def outer_hull(self) -> Hull:
        """Outer outline, plugged flat at the hole's outer edge."""
        return Hull.of_outline(self.outer)

    @cached_property
    def inner_hull(self) -> Hull:
        """Inner outline continued down the hole's wall to the hole's outer edge."""
        return Hull.of_outline(np.vstack((self.outer[:1], self.inner)))

    @cached_property
    def solid_volume(self) -> float:
        """Volume of the shell [m^3]."""
        return float(self.outer_hull.volume[-1] - self.inner_hull.volume[-1])

    @cached_property
    def centroid_z(self) -> float:
        """Height of the centroid of the homogeneous shell [m]."""
        moment = self.outer_hull.moment[-1] - self.inner_hull.moment[-1]
        return float(moment / self.solid_volume)

    @cached_property
    def inner_capacity(self) -> float:
        """Water that fills the bowl to the brim, including the water in the hole [m^3]."""
        return float(self.inner_hull.volume[-1])

    @cached_property
    def polygon(self) -> FloatArray:
        """Closed outline (k, 2) of the solid section, counter-clockwise, first point once."""
        points = np.vstack((self.outer, self.inner[::-1]))
        gap = np.hypot(*(points - np.roll(points, 1, axis=0)).T)
        return frozen(points[gap > COINCIDENT])

    @cached_property
    def straight_r(self) -> tuple[float, ...]:
        """Radii of straight upright walls and of the hole [m], ascending, for grid lines."""
        return _distinct([self.hole_radius, *self._straight(0)])

    @cached_property
    def straight_z(self) -> tuple[float, ...]:
        """Heights of flat faces, of the rim and of z = 0 [m], ascending."""
        return _distinct([0.0, self.rim_height, *self._straight(1)])

    def outer_volume(self, z: ArrayLike) -> FloatArray:
        """Volume inside the plugged outer hull below height z [m^3]."""
        return self.outer_hull.volume_below(z)

    def inner_volume(self, z: ArrayLike) -> FloatArray:
        """Water inside the bowl below height z [m^3], including the water in the hole."""
        return self.inner_hull.volume_below(z)

    def solid_volume_below(self, z: ArrayLike) -> FloatArray:
        """Volume of the shell below height z [m^3]."""
        return self.outer_volume(z) - self.inner_volume(z)

    def inner_waterplane(self, z: ArrayLike) -> FloatArray:
        """Area of the inner water at height z [m^2]; within the base, the hole's area."""
        return self.inner_hull.waterplane(z)

    def inner_level(self, volume: ArrayLike) -> FloatArray:
        """Height z to which a volume of water fills the bowl [m]: the inverse of inner_volume."""
        return self.inner_hull.level(volume)

    def encloses(self, r: float, z: float) -> bool:
        """Whether the point r, z [m] lies inside the plugged outer hull."""
        axis = [[0.0, self.rim_height], [0.0, self.outer_edge_height]]
        return bool(contains_xy(Polygon(np.vstack((self.outer, axis))), r, z))

    def contains(self, r: float, z: float) -> bool:
        """Whether the point r, z [m] lies in the shell itself."""
        return bool(contains_xy(Polygon(self.polygon), r, z))

    def _straight(self, axis: int) -> list[float]:
        """Coordinate of every segment of the outlines that runs exactly along the other axis."""
        found: list[float] = []
        for outline in (self.outer, self.inner):
            step = np.abs(np.diff(outline, axis=0))
            along = step[:, 1 - axis] > SHORTEST_STRAIGHT * self.rim_radius
            found.extend(outline[:-1][(step[:, axis] <= COINCIDENT) & along, axis].tolist())
        return found


def _as_outline(points: ArrayLike, name: str) -> FloatArray:
    outline = np.array(points, dtype=float)
    if outline.ndim != 2 or outline.shape[0] < 2 or outline.shape[1] != 2:
        raise ValueError(f"the {name} outline must be at least two points (r, z)")
    if not np.all(np.isfinite(outline)) or np.any(outline[:, 0] < 0.0):
        raise ValueError(f"the {name} outline needs finite points with r >= 0")
    return outline


def _check_section(polygon: FloatArray) -> None:
    """Raise ValueError unless the section is a simple counter-clockwise polygon."""
    following = np.roll(polygon, -1, axis=0)
    if polygon.shape[0] < 3 or np.sum(_cross(polygon, following)) <= 0.0:
        raise ValueError(
            "the inner outline must lie inside the outer one: the wall has no thickness"
        )
    crossing = first_crossing(polygon, closed=True)
    if crossing is not None:
        r, z = crossing
        raise ValueError(f"the outlines cross near r = {r * 1e3:.4g} mm, z = {z * 1e3:.4g} mm")


def first_crossing(points: FloatArray, closed: bool = False) -> tuple[float, float] | None:
    """Start point of the first segment of a polyline (n, 2) that properly crosses another one."""
    if (LinearRing(points) if closed else LineString(points)).is_simple:
        return None
    start = points if closed else points[:-1]
    end = np.roll(points, -1, axis=0) if closed else points[1:]
    segments = linestrings(np.stack((start, end), axis=1))
    boxes = STRtree(segments)
    for first in range(0, len(start), AT_ONCE):
        i, j = boxes.query(segments[first : first + AT_ONCE])
        i, j = i[j > i + first + 1] + first, j[j > i + first + 1]
        a, b, c, d = start[i], end[i], start[j], end[j]
        apart = _cross(b - a, c - a) * _cross(b - a, d - a) < 0.0
        crossed = i[apart & (_cross(d - c, a - c) * _cross(d - c, b - c) < 0.0)]
        if crossed.size:
            r, z = start[crossed.min()]
            return float(r), float(z)
    return None


def _cross(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])


def _distinct(values: list[float]) -> tuple[float, ...]:
    ordered = np.sort(values)
    keep = np.concatenate(([True], np.diff(ordered) > COINCIDENT))
    return tuple(float(value) for value in ordered[keep])
