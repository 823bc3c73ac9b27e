"""Standard uncertainties of a case's inputs.

A standard uncertainty is one standard deviation (JCGM 100:2008, 2.3.1). Inputs not given in
[uncertainty] have the defaults below (common practice, no source), limited so that the value stays
in its range:

- hole: 0.05 mm, calliper or plug gauge, at most a twentieth of the diameter
- mass: 0.5 %, kitchen scales
- radius: 0.5 %, calliper on a rim that is not quite round
- temperature: 1 K, a thermometer in a tub that is not stirred
- contact angle: 10 deg, the hysteresis of a wiped surface
- salinity: a twentieth of it, salt and water weighed in buckets
- surface tension: none for clean water, a tenth of one that is given
- discharge coefficient: 0.02, error of the closure for a clean sharp hole
- timing: 0.1 s from trial to trial, stopwatch and release by hand
"""

import math
from dataclasses import dataclass, fields

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.schema import CaseTable
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.water import COLDEST, HOTTEST, HOTTEST_SALT, MOST_SALT

DEFAULT_HOLE, DEFAULT_HOLE_SHARE = 5e-5, 0.05
DEFAULT_MASS_SHARE, DEFAULT_RADIUS_SHARE = 0.005, 0.005
DEFAULT_TEMPERATURE = 1.0
DEFAULT_CONTACT_ANGLE = math.radians(10.0)
DEFAULT_SALINITY_SHARE, DEFAULT_TENSION_SHARE = 0.05, 0.1
DEFAULT_DISCHARGE_COEFFICIENT = 0.02
DEFAULT_TIMING = 0.1

WIDEST_SHARE = 0.25
"""Largest standard uncertainty of a positive value, as a share of it: 4 of them reach 0."""

LEAST_CLEAN_TENSION = 0.0589
"""Of clean water at 100 degC [N/m]: for the largest uncertainty where none is given."""


@dataclass(frozen=True)
class Uncertainties:
    """Standard uncertainties of a case, independent of each other.

    hole : of the hole's diameter [m]
    mass : of bowl and ballast together [kg]
    radius : of the outer radius at the rim [m]
    temperature : of the water [K]
    contact_angle : [rad]
    salinity : [kg/kg]
    surface_tension : [N/m]
    discharge_coefficient : [1]
    timing : scatter of release and timing, from trial to trial [s]
    stated : names of those that the case file gives; the others are defaults
    """

    hole: float
    mass: float
    radius: float
    temperature: float
    contact_angle: float
    salinity: float
    surface_tension: float
    discharge_coefficient: float
    timing: float
    stated: frozenset[str]


def uncertainties_of(
    table: CaseTable, bowl: Bowl, total_mass: float, base_gone: bool
) -> Uncertainties:
    """Uncertainties of a checked case table, with defaults.

    table : of the case
    bowl : made from it
    total_mass : of bowl and ballast [kg]
    base_gone : whether the hole is as wide as the inner base; it then has no diameter of its own

    Raises InputRefused if an uncertainty is too large for its value; its key is the name in
    [uncertainty].
    """
    given, hole, water = table.uncertainty, table.hole, table.water
    hottest = HOTTEST_SALT if water.salinity > 0.0 else HOTTEST
    warm = max(0.0, min(water.temperature - COLDEST, hottest - water.temperature))
    wet = min(water.contact_angle, math.pi - water.contact_angle)
    salty = max(0.0, min(WIDEST_SHARE * water.salinity, MOST_SALT - water.salinity))
    tension = water.surface_tension or LEAST_CLEAN_TENSION
    defaults = {
        "hole": 0.0 if base_gone else min(DEFAULT_HOLE, DEFAULT_HOLE_SHARE * hole.each[0]),
        "mass": DEFAULT_MASS_SHARE * total_mass,
        "radius": DEFAULT_RADIUS_SHARE * bowl.rim_radius,
        "temperature": min(DEFAULT_TEMPERATURE, warm),
        "contact_angle": max(0.0, min(DEFAULT_CONTACT_ANGLE, wet)),
        "salinity": min(DEFAULT_SALINITY_SHARE * water.salinity, salty),
        "surface_tension": DEFAULT_TENSION_SHARE * (water.surface_tension or 0.0),
        "discharge_coefficient": DEFAULT_DISCHARGE_COEFFICIENT,
        "timing": DEFAULT_TIMING,
    }
    limits = {
        "hole": (WIDEST_SHARE * hole.each[0], 1e3, "mm"),
        "mass": (WIDEST_SHARE * total_mass, 1e3, "g"),
        "radius": (WIDEST_SHARE * bowl.rim_radius, 1e3, "mm"),
        "temperature": (warm, 1.0, "K"),
        "contact_angle": (wet, math.degrees(1.0), "deg"),
        "salinity": (salty, 1e3, "g/kg"),
        "surface_tension": (WIDEST_SHARE * tension, 1e3, "mN/m"),
        "discharge_coefficient": (WIDEST_SHARE * (hole.discharge_coefficient or 1.0), 1.0, ""),
    }
    stated = {name: value for name, value in given.model_dump().items() if value is not None}
    for name, (limit, scale, unit) in limits.items():
        if stated.get(name, 0.0) > limit * (1.0 + 1e-12):
            raise InputRefused(
                "is too large for the value itself",
                f"Give at most {limit * scale:.4g} {unit}".rstrip() + ", or 0 to leave it out.",
                name,
            )
    names = [field.name for field in fields(Uncertainties) if field.name != "stated"]
    values = {name: stated.get(name, defaults[name]) for name in names}
    return Uncertainties(**values, stated=frozenset(stated))
