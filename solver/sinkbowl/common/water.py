"""Water at atmospheric pressure: density, viscosity and surface tension against temperature.

Published correlations of the International Association for the Properties of Water and Steam:

- density: SR6-08(2011), liquid water at 0.1 MPa, v(T) of its eq. 2, brought to 0.101325 MPa with
  a constant compressibility; within 2e-7 of IAPWS-95 from 0 to 100 degC;
- viscosity: the same release, four-term equation, within 4e-5 of IAPWS R12-08;
- surface tension: R1-76(2014), against saturated vapour.

The errors are those of the equations against the full formulations (measured in the tests); the
releases state about 1e-6, 1 % and 0.5 % against nature (from memory). The surface tension of tap
water with soap or fat in it is lower, often by half.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ZERO_CELSIUS = 273.15
"""0 degC [K]."""

COLDEST, HOTTEST = ZERO_CELSIUS, ZERO_CELSIUS + 100.0
"""Range of validity [K]."""

SPECIFIC_GAS_CONSTANT = 461.51805
"""Of water, as used in SR6-08 [J/(kg K)]."""

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

CRITICAL_TEMPERATURE = 647.096
"""Of water [K]."""


@dataclass(frozen=True)
class Water:
    """Water at one temperature and atmospheric pressure.

    Attributes
    ----------
    temperature : [K]
    density : [kg/m^3]
    viscosity : dynamic viscosity [Pa s]
    surface_tension : against air [N/m]
    """

    temperature: float
    density: float
    viscosity: float
    surface_tension: float


def water_at(temperature: float) -> Water:
    """Water at a temperature [K] and 0.101325 MPa.

    Raises
    ------
    ValueError : if the temperature lies outside 273.15 .. 373.15 K

    Examples
    --------
    >>> round(water_at(293.15).density, 3)
    998.207
    """
    if not COLDEST - 1e-9 <= temperature <= HOTTEST + 1e-9:
        raise ValueError(f"water is liquid from 273.15 to 373.15 K only, not at {temperature} K")
    return Water(
        temperature=temperature,
        density=_density(temperature),
        viscosity=_viscosity(temperature),
        surface_tension=_surface_tension(temperature),
    )


def _density(temperature: float) -> float:
    """Density [kg/m^3]: IAPWS SR6-08(2011) eq. 2, v = (R T_R / p_0) [a_5 + sum a_i + sum b_i]."""
    warm, cold = 10.0 / (593.0 - temperature), 10.0 / (temperature - 232.0)
    total = VOLUME_CONSTANT
    total += sum(a * warm**n for n, a in VOLUME_WARM)
    total += sum(b * cold**m for m, b in VOLUME_COLD)
    specific_volume = SPECIFIC_GAS_CONSTANT * 10.0 / 1e5 * total
    return COMPRESSION / specific_volume


def _viscosity(temperature: float) -> float:
    """Dynamic viscosity [Pa s]: IAPWS SR6-08(2011), sum a_i (T / 300 K)^b_i in 1e-6 Pa s."""
    return float(1e-6 * sum(a * (temperature / 300.0) ** b for b, a in VISCOSITY_TERMS))


def _surface_tension(temperature: float) -> float:
    """Surface tension [N/m]: IAPWS R1-76(2014), B tau^mu (1 + b tau)."""
    tau = 1.0 - temperature / CRITICAL_TEMPERATURE
    return float(0.2358 * np.power(tau, 1.256) * (1.0 - 0.625 * tau))
