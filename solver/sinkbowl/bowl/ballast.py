"""The ballast ring: a torus of round section about the bowl's axis.

Volume 2 pi^2 R a^2 (Pappus) with R the radius of its centre line and a that of its section; the
wetted part of the section is a circular segment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


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
        return float(np.sqrt(self.volume / (2.0 * np.pi**2 * self.radius)))

    def volume_below(self, z: float) -> float:
        """Part of the ring below height z [m^3]."""
        s = self._height_in_section(z)
        share = (np.pi - np.arccos(s) + s * np.sqrt(1.0 - s * s)) / np.pi
        return self.volume * float(share)

    def moment_below(self, z: float) -> float:
        """First moment about z = 0 of the part below height z [m^4]."""
        half_chord = self.section_radius * np.sqrt(1.0 - self._height_in_section(z) ** 2)
        about_centre = -2.0 * np.pi * self.radius * 2.0 / 3.0 * half_chord**3
        return self.height * self.volume_below(z) + float(about_centre)

    def waterplane_inertia(self, z: float) -> float:
        """Second moment about a diameter of the ring's section at height z [m^4]."""
        half_chord = self.section_radius * np.sqrt(1.0 - self._height_in_section(z) ** 2)
        ring = (self.radius + half_chord) ** 4 - (self.radius - half_chord) ** 4
        return float(np.pi / 4.0 * ring)

    def _height_in_section(self, z: float) -> float:
        """Height above the centre in units of the section's radius, clipped to -1 .. 1."""
        return float(np.clip((z - self.height) / self.section_radius, -1.0, 1.0))
