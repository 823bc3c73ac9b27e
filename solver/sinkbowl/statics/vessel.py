"""Bowl and ballast at a draft and an inner level, for the reduced models.

The same volumes as hydrostatics.py, as tables that compiled kernels read (reduced/kernels). Heights
are in the bowl frame (z = 0 at the lowest outer point). Above the rim the hull continues straight
up: as long as the meniscus at the rim holds the water back, the dry space above the rim has
buoyancy like the hull.
"""

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.ballast import Ballast, Ring, Tube
from sinkbowl.bowl.hull import FloatArray, Hull
from sinkbowl.case.case import Case
from sinkbowl.common.numerics import VolumeTable
from sinkbowl.statics.added_mass import OuterInertia, Value, outer_inertia

ROUND_OFF = 1e-12  # relative round-off of the volume of a hull with a flat base
ABOVE = 10.0  # height of the hull's upright continuation over the rim's height

NO_BALLAST = Ballast(())


def _levels(hull: Hull, ballast: Ballast, sign: float, top: float) -> VolumeTable:
    """Table of a hull that continues straight up to `top` [m], volumes of ballast with a sign."""
    area = hull.area
    cubic = np.column_stack((hull.volume[:-1], area[:, 0], area[:, 1] / 2.0, area[:, 2] / 3.0))
    end = [hull.volume[-1], float(hull.waterplane(hull.heights[-1])), 0.0, 0.0]
    heights, cubic = np.append(hull.heights, top), np.vstack((cubic, end))
    for tube in (piece for piece in ballast.pieces if isinstance(piece, Tube)):
        for face in tube.flat_faces:
            heights, cubic = _with_height(heights, cubic, face)
        below, within = heights[:-1], (heights[:-1] >= tube.lowest) & (heights[1:] <= tube.highest)
        cubic[:, 0] += sign * tube.area * (np.clip(below, tube.lowest, tube.highest) - tube.lowest)
        cubic[within, 1] += sign * tube.area
    rings = [
        (sign * ring.volume, ring.radius, ring.height, ring.section_radius)
        for ring in ballast.pieces
        if isinstance(ring, Ring)
    ]
    return VolumeTable(heights, cubic, np.array(rings, dtype=np.float64).reshape(-1, 4))


def _with_height(heights: FloatArray, cubic: FloatArray, z: float) -> tuple[FloatArray, FloatArray]:
    """The same table with an interval that begins at z [m]; 0 below its first height."""
    if z in heights or z > heights[-1]:
        return heights, cubic
    if z < heights[0]:
        return np.append(z, heights), np.vstack((np.zeros(4), cubic))
    i = int(np.searchsorted(heights, z, side="right")) - 1
    s, (c0, c1, c2, c3) = z - heights[i], cubic[i]
    moved = (c0 + s * (c1 + s * (c2 + s * c3)), c1 + s * (2 * c2 + 3 * s * c3), c2 + 3 * s * c3, c3)
    return np.insert(heights, i + 1, z), np.insert(cubic, i + 1, moved, axis=0)


class Outside(NamedTuple):
    """The outer water at one or many drafts.

    area : of the waterplane, including an outer ring [m^2]
    radius : of the hull's waterplane [m]
    displaced : water displaced by the plugged hull and an outer ring [m^3]
    depth : of the half spheroid as full as the wetted hull, 0 for a cup [m]
    inertia : of the outer water
    """

    area: Value
    radius: Value
    displaced: Value
    depth: Value
    inertia: OuterInertia


class Vessel:
    """Areas, volumes and outer inertia of one bowl with its ballast.

    mass : bowl and ballast [kg]
    density : of the water [kg/m^3]
    rim, inner_edge, outer_edge : heights of the rim and of the hole's edges [m]
    rim_radius, hole_radius : [m]
    hole_area : [m^2]
    outer, inner : volumes below a height, including the ring
    plug_volume : of the water in the full hole [m^3]
    hull_volume : displaced with the rim at the surface, dry inside [m^3]
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
        top = ABOVE * self.rim
        self.outer = _levels(bowl.outer_hull, case.outer_ballast, 1.0, top)
        self.inner = _levels(bowl.inner_hull, case.inner_ballast, -1.0, top)
        self._hull = _levels(bowl.outer_hull, NO_BALLAST, 1.0, top)
        self.plug_volume = self.water(self.inner_edge)
        self.hull_volume = self.displaced(self.rim)

    def displaced(self, draft: float) -> float:
        """Water displaced by the plugged hull and an outer ring [m^3]."""
        return float(self.outer.volume(draft))

    def water_area(self, z: float) -> float:
        """Area of the inner surface at height z, minus an inner ring's [m^2]."""
        return float(self.inner.area(min(z, self.rim)))

    def water(self, z: float) -> float:
        """Water in bowl and hole up to height z, minus an inner ring's volume [m^3]."""
        return float(self.inner.volume(min(z, self.rim)))

    def outside(self, draft: Value) -> Outside:
        """The outer water at a draft or at drafts (n,)."""
        wet = np.minimum(draft, self.rim)
        plane, volume = self._hull.area(wet), self._hull.volume(wet)
        height = np.maximum(wet - self.outer_edge, 0.0)
        missing = height - volume / np.where(plane > 0.0, plane, 1.0)
        depth = np.where(missing > ROUND_OFF * np.abs(wet), 3.0 * missing, 0.0)
        radius = np.maximum(np.sqrt(plane / np.pi), self.hole_radius)
        mean = np.where(height > 0.0, volume / np.where(height > 0.0, height, 1.0), plane)
        even = np.maximum(np.sqrt(mean / np.pi), self.hole_radius)
        disc = outer_inertia(even, self.hole_radius, 0.0, self.density)
        round_ = outer_inertia(radius, self.hole_radius, depth, self.density)
        # share of the hull's mean section, beside the hole, over a flat base
        base = float(self._hull.area(self.outer_edge))
        flat = np.clip(base / np.where(mean > 0.0, mean, 1.0), 0.0, 1.0)
        return Outside(
            area=self.outer.area(draft),
            radius=radius,
            displaced=self.outer.volume(draft),
            depth=depth,
            inertia=OuterInertia(
                *(flat * a + (1.0 - flat) * b for a, b in zip(disc, round_, strict=True))
            ),
        )


@lru_cache(maxsize=4)  # asked for by all that a bowl is asked
def vessel_of(case: Case) -> Vessel:
    """The vessel of a case."""
    return Vessel(case)
