"""The ballast ring: a torus of round section about the bowl's axis.

Volume 2 pi^2 R a^2 (Pappus) with R the radius of its centre line and a that of its section; the
wetted part of the section is a circular segment.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sinkbowl.bowl.hull import FloatArray

OUTLINE_POINTS = 48
"""Points of the section's outline, for pictures."""


@dataclass(frozen=True)
class Ballast:
    """Ring under or in the bowl.

    Attributes
    ----------
    mass : [kg]
    radius : of the ring's centre line [m]
    height : of its centre above the bowl's lowest outer point [m], negative below it
    density : of its material [kg/m^3]
    """

    mass: float
    radius: float
    height: float
    density: float

    @property
    def volume(self) -> float:
        """Volume of the ring [m^3]."""
        return self.mass / self.density

    @property
    def section_radius(self) -> float:
        """Radius of the round section [m]."""
        return math.sqrt(self.volume / (2.0 * math.pi**2 * self.radius))

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

    def volumes_below(self, z: FloatArray) -> FloatArray:
        """The same at heights z (n,) [m]."""
        return np.array([self.volume_below(one) for one in z.tolist()])

    def moments_below(self, z: FloatArray) -> FloatArray:
        """First moments at heights z (n,) [m]."""
        return np.array([self.moment_below(one) for one in z.tolist()])

    def waterplane_inertias(self, z: FloatArray) -> FloatArray:
        """Second moments at heights z (n,) [m]."""
        return np.array([self.waterplane_inertia(one) for one in z.tolist()])

    def _height_in_section(self, z: float) -> float:
        """Height above the centre in units of the section's radius, clipped to -1 .. 1."""
        return min(max((z - self.height) / self.section_radius, -1.0), 1.0)
