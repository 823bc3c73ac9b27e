"""What the reduced models need to know of bowl and ballast at a draft and an inner level.

The same volumes as hydrostatics.py, one number at a time and fast: a differential equation asks for
them many thousand times. Heights are in the bowl frame (z = 0 at the lowest outer point). Above its
rim the hull counts as going on straight up: as long as the meniscus at the rim holds the water
back, the dry space above the rim carries weight like the hull.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import NamedTuple

from sinkbowl.bowl.ballast import Ballast
from sinkbowl.bowl.hull import Hull
from sinkbowl.case.case import Case
from sinkbowl.reduced.added_mass import OuterInertia, outer_inertia


class Outside(NamedTuple):
    """The outer water at a draft.

    area : of the waterplane, an outer ring included [m^2]
    radius : of the hull's waterplane [m]
    displaced : water displaced by the plugged hull and an outer ring [m^3]
    depth : of the half spheroid that is as full as the wetted hull, 0 for a flat base [m]
    inertia : of the water outside
    """

    area: float
    radius: float
    displaced: float
    depth: float
    inertia: OuterInertia


class Vessel:
    """Areas, volumes and outer inertia of one bowl with its ballast.

    Parameters
    ----------
    case : the bowl, its hole, ballast and water

    Attributes
    ----------
    mass : bowl and ballast [kg]
    density : of the water [kg/m^3]
    rim, inner_edge, outer_edge : heights of the rim and of the hole's edges [m]
    rim_radius, hole_radius : [m]
    hole_area : [m^2]
    outer_steps, inner_steps : heights of flat faces, where an area jumps [m]
    plug_volume : of the water in the full hole [m^3]
    hull_volume : displaced with the rim at the surface and the inside dry [m^3]
    """

    def __init__(self, case: Case) -> None:
        bowl = case.bowl
        self.case = case
        self.mass = case.total_mass
        self.density = case.water.density
        self.rim = bowl.rim_height
        self.rim_radius = bowl.rim_radius
        self.inner_edge = bowl.inner_edge_height
        self.outer_edge = bowl.outer_edge_height
        self.hole_radius = bowl.hole_radius
        self.hole_area = math.pi * self.hole_radius**2
        self._outer, self._inner = _Levels(bowl.outer_hull), _Levels(bowl.inner_hull)
        self._outer_ring = None if case.ballast_inside else case.ballast
        self._inner_ring = case.ballast if case.ballast_inside else None
        self.outer_steps, self.inner_steps = self._outer.steps(), self._inner.steps()
        self.plug_volume = self.water(self.inner_edge)
        self.hull_volume = self.displaced(self.rim)

    def outer_area(self, draft: float) -> float:
        """Area of the outer waterplane, an outer ring included [m^2]."""
        return self._outer.area(draft) + _ring_area(self._outer_ring, draft)

    def displaced(self, draft: float) -> float:
        """Water displaced by the plugged hull and an outer ring [m^3]."""
        above_rim = max(draft - self.rim, 0.0) * self._outer.area(self.rim)
        return self._outer.volume(draft) + _ring_volume(self._outer_ring, draft) + above_rim

    def water_area(self, z: float) -> float:
        """Area of the inner surface at height z, less an inner ring's [m^2]."""
        return self._inner.area(z) - _ring_area(self._inner_ring, z)

    def water(self, z: float) -> float:
        """Water in bowl and hole up to height z, less what an inner ring takes [m^3]."""
        level = min(z, self.rim)
        return self._inner.volume(level) - _ring_volume(self._inner_ring, level)

    def outside(self, draft: float) -> Outside:
        """The outer water at a draft."""
        wet = min(draft, self.rim)
        plane = self._outer.area(wet)
        missing = wet - self.outer_edge - (self._outer.volume(wet) / plane if plane > 0.0 else 0.0)
        depth = max(3.0 * missing, 0.0)
        radius = max(math.sqrt(plane / math.pi), self.hole_radius)
        return Outside(
            area=plane + _ring_area(self._outer_ring, draft),
            radius=radius,
            displaced=self.displaced(draft),
            depth=depth,
            inertia=outer_inertia(radius, self.hole_radius, depth, self.density),
        )


class _Levels:
    """Area and volume of a `Hull` at single heights, constant beyond its ends."""

    def __init__(self, hull: Hull) -> None:
        self._heights = hull.heights.tolist()
        self._area = hull.area.tolist()
        self._volume = hull.volume.tolist()

    def area(self, z: float) -> float:
        (c0, c1, c2), s, _ = self._at(z)
        return float(c0 + s * (c1 + s * c2))

    def volume(self, z: float) -> float:
        (c0, c1, c2), s, below = self._at(z)
        return float(below + s * (c0 + s * (c1 / 2.0 + s * c2 / 3.0)))

    def steps(self) -> tuple[float, ...]:
        """Heights inside the hull at which the area jumps [m]."""
        inside = enumerate(self._heights[1:-1], start=1)
        return tuple(z for i, z in inside if not math.isclose(self._end_area(i), self._area[i][0]))

    def _end_area(self, i: int) -> float:
        """Area just below height i [m^2]."""
        c0, c1, c2 = self._area[i - 1]
        s = self._heights[i] - self._heights[i - 1]
        return float(c0 + s * (c1 + s * c2))

    def _at(self, z: float) -> tuple[list[float], float, float]:
        """Coefficients, height above the interval's lower end and volume below that."""
        clipped = min(max(z, self._heights[0]), self._heights[-1])
        i = min(bisect_right(self._heights, clipped), len(self._area)) - 1
        return self._area[i], clipped - self._heights[i], self._volume[i]


def _ring_area(ring: Ballast | None, z: float) -> float:
    """Area of the ring's section at height z [m^2]; 0 without a ring."""
    if ring is None:
        return 0.0
    half_chord = math.sqrt(max(ring.section_radius**2 - (z - ring.height) ** 2, 0.0))
    return 4.0 * math.pi * ring.radius * half_chord


def _ring_volume(ring: Ballast | None, z: float) -> float:
    return 0.0 if ring is None else ring.volume_below(z)
