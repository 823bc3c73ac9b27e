"""What sea salt does to water: density, viscosity and surface tension against its share.

- density: IAPWS R13-08, the saline part of its Gibbs function (that of TEOS-10); at atmospheric
  pressure only the terms of first order in pressure are left,

      v_salt = sum g_ij xi^i tau^j / 100 MPa,   xi = sqrt(S / S*),   tau = t / 40 degC;

- viscosity: Sharqawy, Lienhard & Zubair 2010, Desalination and Water Treatment 16, 354, eq. 22
  (0 to 180 degC, up to 150 g/kg, 1.5 %; from memory);
- surface tension: IAPWS G14-19 (Nayar et al. 2014), within 0.4 % (from memory).

S is the mass of dissolved sea salt over that of the solution. Kitchen salt, pure sodium chloride,
makes water less dense by about 0.15 % at 35 g/kg (handbook tables, from memory).
"""

from __future__ import annotations

import math

from sinkbowl.common.constants import ZERO_CELSIUS

MOST_SALT = 0.12
"""Share [kg/kg] up to which the density holds."""

HOTTEST_SALT = 353.15
"""Temperature [K] up to which the density of salt water holds."""

SCALE = 0.03516504 * 40.0 / 35.0
"""S* [kg/kg]."""

VOLUME_TERMS = (
    (2, 0, -0.331049154044839e4),
    (3, 0, 0.199459603073901e3),
    (4, 0, -0.547919133532887e2),
    (5, 0, 0.360284195611086e2),
    (2, 1, 0.729116529735046e3),
    (3, 1, -0.175292041186547e3),
    (4, 1, -0.226683558512829e2),
    (2, 2, -0.860764303783977e3),
    (3, 2, 0.383058066002476e3),
    (2, 3, 0.694244814133268e3),
    (3, 3, -0.460319931801257e3),
    (2, 4, -0.297728741987187e3),
    (3, 4, 0.234565187611355e3),
)
"""i, j and g_ij [J/kg]."""


def salt_volume(temperature: float, salinity: float) -> float:
    """What the salt adds to the specific volume [m^3/kg], negative; temperature in K."""
    root, tau = math.sqrt(salinity / SCALE), (temperature - ZERO_CELSIUS) / 40.0
    return float(sum(g * root**i * tau**j for i, j, g in VOLUME_TERMS)) / 1e8


def viscosity_ratio(temperature: float, salinity: float) -> float:
    """Dynamic viscosity over that of fresh water of the same temperature [K]."""
    t = temperature - ZERO_CELSIUS
    linear = 1.541 + 1.998e-2 * t - 9.52e-5 * t**2
    square = 7.974 - 7.561e-2 * t + 4.724e-4 * t**2
    return 1.0 + linear * salinity + square * salinity**2


def tension_ratio(temperature: float, salinity: float) -> float:
    """Surface tension over that of fresh water of the same temperature [K]."""
    return 1.0 + salinity * (0.3766 + 2.347e-3 * (temperature - ZERO_CELSIUS))
