"""Water at atmospheric pressure: density, viscosity and surface tension against temperature.

Published correlations of the International Association for the Properties of Water and Steam:

- density: SR6-08(2011), liquid water at 0.1 MPa, v(T) of its eq. 2, brought to 0.101325 MPa with
  a constant compressibility; within 2e-7 of IAPWS-95 from 0 to 100 degC;
- viscosity: the same release, four-term equation, within 4e-5 of IAPWS R12-08;
- surface tension: R1-76(2014), against saturated vapour.

The errors are those of the equations against the full formulations (measured in the tests); the
releases state about 1e-6, 1 % and 0.5 % against nature (from memory). The surface
tension of tap water with soap or fat in it is lower, often by half: a case may state it.

Effect of sea salt on density, viscosity and surface tension:

- density: IAPWS R13-08, the saline part of its Gibbs function (that of TEOS-10); at atmospheric
  pressure only terms of first order in pressure matter,

      v_salt = sum g_ij xi^i tau^j / 100 MPa,   xi = sqrt(S / S*),   tau = t / 40 degC;

- viscosity: Sharqawy, Lienhard & Zubair 2010, Desalination and Water Treatment 16, 354, eq. 22
  (0 to 180 degC, up to 150 g/kg, 1.5 %; from memory);
- surface tension: IAPWS G14-19 (Nayar et al. 2014), within 0.4 % (from memory).

S is the mass of dissolved sea salt over that of the solution. Kitchen salt, pure sodium chloride,
makes water less dense by about 0.15 % at 35 g/kg (handbook tables, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sinkbowl.common import ZERO_CELSIUS

MOST_SALT = 0.12  # salinity [kg/kg] up to which the density is valid
HOTTEST_SALT = 353.15  # temperature [K] up to which the density of salt water is valid
SCALE = 0.03516504 * 40.0 / 35.0  # S* [kg/kg]

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
    """Change of the specific volume by salt [m^3/kg], negative; temperature [K]."""
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


COLDEST, HOTTEST = ZERO_CELSIUS, ZERO_CELSIUS + 100.0  # range of validity [K]
SPECIFIC_GAS_CONSTANT = 461.51805  # of water, as used in SR6-08 [J/(kg K)]

COMPRESSION = 1.0 + 4.6e-10 * 1325.0
"""From 0.1 MPa to 0.101325 MPa with 4.6e-10 1/Pa (5.1e-10 at 0, 4.4e-10 at 45 degC)."""

VOLUME_CONSTANT = 1.93763157e-2
VOLUME_WARM = (
    (4, 6.74458446e3),
    (5, -2.22521604e5),
    (7, 1.00231247e8),
    (8, -1.63552118e9),
    (9, 8.32299658e9),
)
VOLUME_COLD = (
    (1, 5.78545292e-3),
    (2, -1.53195665e-2),
    (3, 3.11337859e-2),
    (4, -4.23546241e-2),
    (5, 3.38713507e-2),
    (6, -1.19946761e-2),
)
VISCOSITY_TERMS = ((-1.9, 280.68), (-7.7, 511.45), (-19.6, 61.131), (-40.0, 0.45903))

CRITICAL_TEMPERATURE = 647.096  # of water [K]


@dataclass(frozen=True)
class Water:
    """Water at one temperature and atmospheric pressure.

    temperature : [K]
    density : [kg/m^3]
    viscosity : dynamic viscosity [Pa s]
    surface_tension : against air [N/m]
    salinity : mass of sea salt over that of the solution [kg/kg]
    tension_stated : whether the surface tension was given, as for soapy water
    """

    temperature: float
    density: float
    viscosity: float
    surface_tension: float
    salinity: float = 0.0
    tension_stated: bool = False

    @property
    def words(self) -> str:
        """Description: "20 °C", with salt and surface tension if given."""
        parts = [f"{self.temperature - ZERO_CELSIUS:.3g} \u00b0C"]
        if self.salinity > 0.0:
            parts.append(f"{1e3 * self.salinity:.3g} g/kg of salt")
        if self.tension_stated:
            parts.append(f"surface tension {1e3 * self.surface_tension:.3g} mN/m")
        return ", ".join(parts)

    def changed(
        self, temperature: float = 0.0, salinity: float = 0.0, surface_tension: float = 0.0
    ) -> Water:
        """The water with another temperature [K], salinity [kg/kg] and surface tension [N/m].

        All three are changes; temperature and salinity are limited to their valid range. A stated
        surface tension depends neither on temperature nor on salt.
        """
        stated = self.surface_tension if self.tension_stated else None
        salt = min(max(self.salinity + salinity, 0.0), MOST_SALT)
        hottest = HOTTEST_SALT if salt > 0.0 else HOTTEST
        other = water_at(min(max(self.temperature + temperature, COLDEST), hottest), salt, stated)
        return replace(other, surface_tension=other.surface_tension + surface_tension)


def water_at(
    temperature: float, salinity: float = 0.0, surface_tension: float | None = None
) -> Water:
    """Water at a temperature [K] and 0.101325 MPa.

    Parameters
    ----------
    temperature : 273.15 .. 373.15 K, with salt up to 353.15 K
    salinity : mass of sea salt over that of the solution [kg/kg], 0 .. 0.12
    surface_tension : of water with soap or fat in it [N/m]; None: that of clean water

    Raises
    ------
    ValueError : temperature or salinity is out of range

    Examples
    --------
    >>> round(water_at(293.15).density, 3)
    998.207
    >>> round(water_at(293.15, salinity=0.03516504).density, 1)
    1024.8
    """
    if not COLDEST - 1e-9 <= temperature <= HOTTEST + 1e-9:
        raise ValueError(f"water is liquid only from 273.15 to 373.15 K, not at {temperature} K")
    density = _density(temperature)
    # IAPWS SR6-08(2011), sum a_i (T / 300 K)^b_i in 1e-6 Pa s
    viscosity = float(1e-6 * sum(a * (temperature / 300.0) ** b for b, a in VISCOSITY_TERMS))
    tau = 1.0 - temperature / CRITICAL_TEMPERATURE  # IAPWS R1-76(2014), B tau^mu (1 + b tau)
    tension = float(0.2358 * np.power(tau, 1.256) * (1.0 - 0.625 * tau))
    if salinity != 0.0:
        if not (0.0 < salinity <= MOST_SALT + 1e-12 and temperature <= HOTTEST_SALT + 1e-9):
            raise ValueError(
                f"salt water is known up to {MOST_SALT} kg/kg and {HOTTEST_SALT} K, "
                f"not {salinity} kg/kg at {temperature} K"
            )
        density = 1.0 / (1.0 / density + salt_volume(temperature, salinity))
        viscosity *= viscosity_ratio(temperature, salinity)
        tension *= tension_ratio(temperature, salinity)
    return Water(
        temperature=temperature,
        density=density,
        viscosity=viscosity,
        surface_tension=tension if surface_tension is None else surface_tension,
        salinity=salinity,
        tension_stated=surface_tension is not None,
    )


def _density(temperature: float) -> float:
    """Density [kg/m^3]: IAPWS SR6-08(2011) eq. 2, v = (R T_R / p_0) [a_5 + sum a_i + sum b_i]."""
    warm, cold = 10.0 / (593.0 - temperature), 10.0 / (temperature - 232.0)
    total = VOLUME_CONSTANT
    total += sum(a * warm**n for n, a in VOLUME_WARM)
    total += sum(b * cold**m for m, b in VOLUME_COLD)
    specific_volume = SPECIFIC_GAS_CONSTANT * 10.0 / 1e5 * total
    return COMPRESSION / specific_volume
