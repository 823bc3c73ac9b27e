"""Parts of a case besides its bowl: hole, start, options of the flow solver, uncertainties.

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
from dataclasses import dataclass, field, fields
from typing import Literal

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.schema import CaseTable
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.water import COLDEST, HOTTEST, HOTTEST_SALT, MOST_SALT


@dataclass(frozen=True)
class Finish:
    """Properties of the hole besides its diameter.

    discharge_coefficient : for the reduced models; None: estimated
    edge : "sharp" or "rounded"
    ratios : diameter of each hole over that of the widest, which comes first
    offset : of the hole's middle, or of the middle of all of them, from the axis [m]
    """

    discharge_coefficient: float | None = None
    edge: Literal["sharp", "rounded"] = "sharp"
    ratios: tuple[float, ...] = (1.0,)
    offset: float = 0.0

    @property
    def count(self) -> int:
        """Number of holes."""
        return len(self.ratios)

    @property
    def equal(self) -> bool:
        """Whether all holes have the same diameter."""
        return min(self.ratios) == 1.0

    @property
    def together(self) -> float:
        """Diameter of one hole with the area of all, over that of the widest."""
        return math.sqrt(self.count if self.equal else sum(ratio**2 for ratio in self.ratios))


@dataclass(frozen=True)
class Hole(Finish):
    """Hole in the base, or several.

    diameter : of each, or of the widest [m]
    """

    diameter: float = field(kw_only=True)

    @property
    def area(self) -> float:
        """Area of all holes [m^2]."""
        return self.together**2 * (math.pi * self.diameter**2 / 4.0)

    @property
    def each(self) -> tuple[float, ...]:
        """Diameters of all [m], the widest first."""
        return tuple(ratio * self.diameter for ratio in self.ratios)

    @property
    def widths(self) -> str:
        """The diameters as text: "20 mm", "3 of 8 mm", "12, 8 and 8 mm"."""
        widest = f"{1e3 * self.diameter:.4g} mm"
        if self.count == 1:
            return widest
        if self.equal:
            return f"{self.count} of {widest}"
        *first, last = (f"{1e3 * one:.4g}" for one in self.each)
        return f"{', '.join(first)} and {last} mm"


StartKind = Literal["set down", "held", "drop", "push"]


@dataclass(frozen=True)
class Start:
    """Release of the bowl.

    kind : "set down" (at rest at its dry draft), "held" (by its rim, then released at rest), "drop"
        or "push"
    drop_height : height of the lowest point above the water [m]; 0 unless dropped
    push : downward impulse [N s]; 0 unless pushed
    draft : at which it is held [m]; 0 unless held
    inside : of a held bowl: "level" (hole open, water as high inside as outside) or "dry" (hole
        stopped until the release)
    """

    kind: StartKind = "set down"
    drop_height: float = 0.0
    push: float = 0.0
    draft: float = 0.0
    inside: Literal["level", "dry"] = "dry"

    @property
    def words(self) -> str:
        """The start as text: "held at 20 mm, water inside level"."""
        if self.kind != "held":
            return self.kind
        return f"held at {1e3 * self.draft:.4g} mm, inside {self.inside}"


TUB_RADII, LEAST_WATER = 3.0, 0.1
"""Radius of the default tub in rim radii; minimum width of water beside the bowl [m]."""


def usual_tub(rim_radius: float) -> float:
    """Default radius of the tub [m]."""
    return max(TUB_RADII * rim_radius, rim_radius + LEAST_WATER)


@dataclass(frozen=True)
class FlowOptions:
    """Options of the flow solver.

    cell : size of the cells around the bowl [m]; None: from hole and wall
    base_cell : size of the cells at the hole's edge and over the base [m]; None: from the boundary
        layer and `answer`
    answer : "quick" or "good": number of cells in the boundary layer
    tub_radius : [m]
    tub_depth : depth of the tub's water [m], None for deep
    beach : width of the beach along the tub's wall [m], 0 for none
    wall : "no-slip", water with viscosity that sticks to the bowl, or "slip", without viscosity
    air : "kept" or "void": whether air that the water closes off keeps its amount
    surface_tension : whether it is included
    hole : "resolved" by the grid, "closed" by a discharge law, or "auto": by the cells across it
    """

    cell: float | None
    tub_radius: float
    tub_depth: float | None = None
    beach: float = 0.0
    wall: Literal["slip", "no-slip"] = "no-slip"
    surface_tension: bool = False
    hole: Literal["auto", "resolved", "closed"] = "auto"
    base_cell: float | None = None
    answer: Literal["quick", "good"] = "quick"
    air: Literal["kept", "void"] = "kept"


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
