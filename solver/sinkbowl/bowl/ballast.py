"""Ballast under, on or in the bowl: bodies of revolution about its axis.

A ring is a torus of round section: volume 2 pi^2 R a^2 (Pappus) with R the radius of its centre
line and a that of its section, whose wetted part is a circular segment. A washer, and a band of
putty pressed round a wall, are tubes of rectangular section between two radii and two heights:
volume pi (R_o^2 - R_i^2) t.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sinkbowl.bowl.hull import FloatArray

OUTLINE_POINTS = 48  # points of the section's outline of a ring, for pictures


@dataclass(frozen=True)
class Ring:
    """Ring of round section.

    mass : [kg]
    radius : of the ring's centre line [m]
    height : of its centre above the bowl's lowest outer point [m], negative below it
    density : of its material [kg/m^3]
    material : what it is drawn as, empty: by its density
    """

    mass: float
    radius: float
    height: float
    density: float
    material: str = ""

    @property
    def volume(self) -> float:
        """Volume of the ring [m^3]."""
        return self.mass / self.density

    @property
    def section_radius(self) -> float:
        """Radius of the round section [m]."""
        return math.sqrt(self.volume / (2.0 * math.pi**2 * self.radius))

    @property
    def lowest(self) -> float:
        """Height of its lowest point [m]."""
        return self.height - self.section_radius

    @property
    def highest(self) -> float:
        """Height of its highest point [m]."""
        return self.height + self.section_radius

    @property
    def widest(self) -> float:
        """Radius of its outermost point [m]."""
        return self.radius + self.section_radius

    @property
    def flat_faces(self) -> tuple[float, ...]:
        """Heights at which its area jumps [m]."""
        return ()

    @property
    def outline(self) -> FloatArray:
        """Its round section as a closed outline (n, 2) of r, z [m], counter-clockwise."""
        angle = np.linspace(0.0, 2.0 * np.pi, OUTLINE_POINTS, endpoint=False)
        circle = np.column_stack((np.cos(angle), np.sin(angle)))
        return np.asarray((self.radius, self.height) + self.section_radius * circle)

    def volume_below(self, z: float) -> float:
        """Part of the ring below height z [m^3]."""
        s = self._height_in_section(z)
        share = (math.pi - math.acos(s) + s * math.sqrt(1.0 - s * s)) / math.pi
        return self.volume * share

    def moment_below(self, z: float) -> float:
        """First moment about z = 0 of the part below height z [m^4]."""
        half_chord = self.section_radius * math.sqrt(1.0 - self._height_in_section(z) ** 2)
        about_centre = -2.0 * math.pi * self.radius * 2.0 / 3.0 * half_chord**3
        return self.height * self.volume_below(z) + about_centre

    def waterplane_inertia(self, z: float) -> float:
        """Second moment about a diameter of the ring's section at height z [m^4]."""
        half_chord = self.section_radius * math.sqrt(1.0 - self._height_in_section(z) ** 2)
        ring = (self.radius + half_chord) ** 4 - (self.radius - half_chord) ** 4
        return math.pi / 4.0 * ring

    def _height_in_section(self, z: float) -> float:
        """Height above the centre in units of the section's radius, clipped to -1 .. 1."""
        return min(max((z - self.height) / self.section_radius, -1.0), 1.0)


@dataclass(frozen=True)
class Tube:
    """Ring of rectangular section: a flat washer, or a band round a wall.

    mass : [kg]
    inner, outer : radii [m]
    height : of its middle above the bowl's lowest outer point [m]
    thickness : along the axis [m]
    material : what it is drawn as, empty: by its density
    shape : "washer" or "band"
    """

    mass: float
    inner: float
    outer: float
    height: float
    thickness: float
    material: str = ""
    shape: str = "washer"

    @property
    def area(self) -> float:
        """Of a section across the axis [m^2]."""
        return math.pi * (self.outer**2 - self.inner**2)

    @property
    def volume(self) -> float:
        """Volume of the tube [m^3]."""
        return self.area * self.thickness

    @property
    def density(self) -> float:
        """Of its material [kg/m^3]."""
        return self.mass / self.volume

    @property
    def radius(self) -> float:
        """Radius of the middle of its section [m]."""
        return 0.5 * (self.inner + self.outer)

    @property
    def lowest(self) -> float:
        """Height of its lower face [m]."""
        return self.height - 0.5 * self.thickness

    @property
    def highest(self) -> float:
        """Height of its upper face [m]."""
        return self.height + 0.5 * self.thickness

    @property
    def widest(self) -> float:
        """Radius of its outer face [m]."""
        return self.outer

    @property
    def flat_faces(self) -> tuple[float, ...]:
        """Heights at which its area jumps [m]."""
        return self.lowest, self.highest

    @property
    def outline(self) -> FloatArray:
        """Its section as a closed outline (4, 2) of r, z [m], counter-clockwise."""
        low, high = self.lowest, self.highest
        corners = ((self.inner, low), (self.outer, low), (self.outer, high), (self.inner, high))
        return np.array(corners)

    def volume_below(self, z: float) -> float:
        """Part of the tube below height z [m^3]."""
        return self.area * (self._clipped(z) - self.lowest)

    def moment_below(self, z: float) -> float:
        """First moment about z = 0 of the part below height z [m^4]."""
        return 0.5 * self.area * (self._clipped(z) ** 2 - self.lowest**2)

    def waterplane_inertia(self, z: float) -> float:
        """Second moment about a diameter of the section at height z [m^4]."""
        cut = self.lowest <= z < self.highest
        return math.pi / 4.0 * (self.outer**4 - self.inner**4) if cut else 0.0

    def _clipped(self, z: float) -> float:
        return min(max(z, self.lowest), self.highest)


Piece = Ring | Tube


@dataclass(frozen=True)
class Ballast:
    """Pieces of ballast: all of them, or those inside or outside the bowl."""

    pieces: tuple[Piece, ...] = ()

    def __bool__(self) -> bool:
        """Whether there is any."""
        return bool(self.pieces)

    @cached_property
    def mass(self) -> float:
        """Of all pieces [kg]."""
        return sum(piece.mass for piece in self.pieces)

    @cached_property
    def volume(self) -> float:
        """Of all pieces [m^3]."""
        return sum(piece.volume for piece in self.pieces)

    @property
    def density(self) -> float:
        """Mass over volume [kg/m^3]."""
        return self.mass / self.volume

    @property
    def mass_moment(self) -> float:
        """First moment of the masses about z = 0 [kg m]."""
        return sum(piece.mass * piece.height for piece in self.pieces)

    @property
    def lowest(self) -> float:
        """Height of the lowest point [m]; infinite without pieces."""
        return min((piece.lowest for piece in self.pieces), default=math.inf)

    @property
    def highest(self) -> float:
        """Height of the highest point [m]; minus infinity without pieces."""
        return max((piece.highest for piece in self.pieces), default=-math.inf)

    @property
    def widest(self) -> float:
        """Radius of the outermost point [m]; 0 without pieces."""
        return max((piece.widest for piece in self.pieces), default=0.0)

    @property
    def flat_faces(self) -> tuple[float, ...]:
        """Heights at which the area jumps [m]."""
        return tuple(face for piece in self.pieces for face in piece.flat_faces)

    @property
    def ring(self) -> Ring | None:
        """The only round ring, whose mass can be varied; None for none or several."""
        rings = [piece for piece in self.pieces if isinstance(piece, Ring)]
        return rings[0] if len(rings) == 1 else None

    def with_ring(self, ring: Ring) -> Ballast:
        """The same pieces with another one in place of the one ring."""
        return Ballast(tuple(ring if piece is self.ring else piece for piece in self.pieces))

    def volume_below(self, z: float) -> float:
        """Volume below height z [m^3]."""
        return sum(piece.volume_below(z) for piece in self.pieces)

    def moment_below(self, z: float) -> float:
        """First moment about z = 0 of the volume below height z [m^4]."""
        return sum(piece.moment_below(z) for piece in self.pieces)

    def waterplane_inertia(self, z: float) -> float:
        """Second moment about a diameter of the section at height z [m^4]."""
        return sum(piece.waterplane_inertia(z) for piece in self.pieces)

    def volumes_below(self, z: FloatArray) -> FloatArray:
        """Volumes below heights z (n,) [m^3]."""
        return self._each(self.volume_below, z)

    def moments_below(self, z: FloatArray) -> FloatArray:
        """First moments at heights z (n,) [m^4]."""
        return self._each(self.moment_below, z)

    def waterplane_inertias(self, z: FloatArray) -> FloatArray:
        """Second moments at heights z (n,) [m^4]."""
        return self._each(self.waterplane_inertia, z)

    def _each(self, function: Callable[[float], float], z: FloatArray) -> FloatArray:
        return np.array([function(one) for one in z.tolist()]) if self.pieces else np.zeros_like(z)

    @property
    def outline(self) -> FloatArray:
        """Outlines of all pieces (n, 2) of r, z [m]; if several, each is closed by its first
        point."""
        outlines = [piece.outline for piece in self.pieces]
        if len(outlines) < 2:
            return outlines[0] if outlines else np.zeros((0, 2))
        return np.vstack([np.vstack((one, one[:1])) for one in outlines])


def outlines_of(points: FloatArray) -> list[FloatArray]:
    """The separate outlines (n, 2) in the array of `Ballast.outline`."""
    found, rest = [], points
    while len(rest):
        again = np.flatnonzero(np.all(rest[1:] == rest[0], axis=1))
        end = int(again[0]) + 1 if again.size else len(rest)
        found.append(rest[:end])
        rest = rest[end + 1 :]
    return found
