"""The blank: a bowl before its hole is drilled, and which holes fit into it.

The bowl is axisymmetric: its section has one hole in the middle, with the area of all of them.
Volumes, masses and flow areas are then exact. The holes fit on the base if the smallest circle
around them does. For n equal holes it is that of their closest packing,
a ring of up to six, or one with the others around it (exact for up to nine, from memory). For
unequal ones it is the circle around the two widest side by side, or around the three widest that
touch one another (Descartes' circle theorem, from memory): exact for two and three, a lower bound
for more, whose positions the user must draw.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.bowl.hull import FloatArray
from sinkbowl.bowl.outline import Sides, read_outline
from sinkbowl.bowl.shapes import Outlines, cap, cone, cup, drill, profile, two_sided
from sinkbowl.case.parts import Finish
from sinkbowl.case.rules import NEEDED
from sinkbowl.case.schema import BowlTable
from sinkbowl.common.errors import InputRefused

HAIR = 1e-6  # a hole closer than this [m] to the inner base's edge removes the whole base
TRACING = 1e-4  # accuracy [m] of a traced outline: it may begin this far outside the hole's edge

FLAT = 0.02
"""Slope up to which the start of an outline counts as a flat base that continues to the axis."""

OUTLINE_AGREEMENT = 0.01  # relative tolerance of radius and height given together with an outline


@dataclass(frozen=True, eq=False)
class Blank:
    """Undrilled bowl and its mass or density.

    section : outlines from the axis to the rim
    mass : mass of the finished bowl with any hole [kg], or None
    density : of its material [kg/m^3], where the mass is None
    base_radius : radius of the flat inner base [m], None for shapes without one
    narrowest : radius of the narrowest hole that the outline describes [m]
    """

    section: Outlines
    mass: float | None
    density: float | None
    base_radius: float | None
    narrowest: float = 0.0

    def drilled(self, hole_diameter: float) -> Bowl:
        """Bowl with a hole of a diameter [m]; InputRefused if it is wider than the base."""
        section = drill(self.section, self._cut_radius(hole_diameter))
        volume = _bowl(section, 1.0).solid_volume
        return _bowl(section, self._weigh(volume))

    def takes_base_away(self, hole_diameter: float) -> bool:
        """Whether a hole is as wide as the inner base, so that only the wall is left."""
        return self.base_radius is not None and hole_diameter >= 2.0 * (self.base_radius - HAIR)

    def _cut_radius(self, hole_diameter: float) -> float:
        """Radius of the cut [m]: that of the hole, or of the base if hardly any base is left."""
        radius = 0.5 * hole_diameter
        if radius < self.narrowest - TRACING:
            raise InputRefused(
                f"is inside the outline's first point ({2e3 * self.narrowest:.6g} mm across), "
                "and the outline is not flat there",
                "Start the outline on the axis.",
            )
        if self.base_radius is None or radius < self.base_radius - HAIR:
            return radius
        if radius > self.base_radius + HAIR:
            widest = f"{2e3 * self.base_radius:.6g} mm"
            raise InputRefused(
                f"is wider than the inner base ({widest})",
                f"Give a hole of at most {widest}: exactly that value leaves no base.",
            )
        return self.base_radius

    def _weigh(self, volume: float) -> float:
        """Mass [kg] of a bowl whose shell has a volume [m^3]."""
        if self.mass is not None:
            return self.mass
        if self.density is not None:
            return self.density * volume
        raise ValueError("a blank needs a mass or a density")


def blank_of(table: BowlTable, folder: Path) -> Blank:
    """Blank of a checked [bowl] table; InputRefused if there is no such bowl.

    table : has the keys of its shape, the others are None (see `rules`)
    folder : of the outline file of a profile
    """
    if table.shape == "profile":
        return _traced(read_outline(folder / str(table.profile), table.axis, table.unit), table)
    section = BUILDERS[table.shape](*(getattr(table, key) for key in NEEDED[table.shape]))
    base_radius = None if table.base is None else float(section.inner[1, 0])
    return Blank(section, table.mass, table.density, base_radius)


BUILDERS: dict[str, Callable[..., Outlines]] = {"cup": cup, "cone": cone, "cap": cap}
"""What makes each shape but a profile, from its required keys in their order."""


def _traced(sides: Sides, table: BowlTable) -> Blank:
    """Blank of a free outline; only a flat base is continued to the axis."""
    _check_agreement(sides.outer, table)
    if sides.inner is None:
        if table.wall is None:
            raise InputRefused(
                "is missing, and the outline has only one side",
                "It is the wall thickness, measured perpendicular to the wall.",
                "wall",
            )
        section = profile(sides.outer, table.wall)
        return Blank(section, table.mass, table.density, None, _narrowest(sides.outer))
    if table.wall is not None:
        raise InputRefused("is given, but the mesh has its own wall", "Leave it out.", "wall")
    narrowest = max(_narrowest(sides.outer), _narrowest(sides.inner))
    section = two_sided(sides.outer, sides.inner)
    return Blank(section, table.mass, table.density, None, narrowest)


def _narrowest(outline: FloatArray) -> float:
    """Radius inside which the outline is unknown [m]: 0 if it starts flat."""
    step = outline[1] - outline[0]
    return 0.0 if abs(step[1]) <= FLAT * step[0] else float(outline[0, 0])


def _check_agreement(outline: FloatArray, table: BowlTable) -> None:
    """Refuse radius or height that contradict the outline."""
    measured = {"radius": outline[-1, 0], "height": outline[-1, 1] - outline[:, 1].min()}
    for key, size in measured.items():
        given = getattr(table, key)
        if given is not None and abs(given - size) > OUTLINE_AGREEMENT * size + COINCIDENT:
            raise InputRefused(
                f"disagrees with the outline ({size * 1e3:.4g} mm)",
                "Leave it out: the outline gives it.",
                key,
            )


def _bowl(section: Outlines, mass: float) -> Bowl:
    try:
        return Bowl.from_outlines(section.outer, section.inner, mass)
    except ValueError as error:
        raise InputRefused(f"makes no bowl: {error}", key="bowl.shape") from None


RING = 6  # up to so many holes pack closest as a ring; with more, one is in the middle


def packing(finish: Finish) -> float:
    """Diameter of the smallest circle around all holes, over that of the widest."""
    count = finish.count
    if count == 1:
        return 1.0
    if finish.equal:
        return 1.0 + 1.0 / math.sin(math.pi / (count if count <= RING else count - 1))
    widest, second, third = (*finish.ratios, 0.0)[:3]
    return max(around_three(widest, second, third), finish.together)


def around_three(a: float, b: float, c: float) -> float:
    """Size of the smallest circle around circles of sizes a >= b >= c that do not overlap."""
    gap = a * b * (a + b) / (a**2 + a * b + b**2)
    if c <= gap:
        return a + b  # the third lies beside the two, in the circle around them
    x, y, z = 1.0 / a, 1.0 / b, 1.0 / c
    return 1.0 / (2.0 * math.sqrt(x * y + y * z + z * x) - (x + y + z))


def widest_of(blank: Blank, finish: Finish) -> float:
    """Maximum diameter of the widest hole with which all fit on the base [m].

    Inside the rim if the bowl has no flat base. At or below 0 if the offset leaves no room.
    """
    inner = blank.base_radius
    radius = float(blank.section.inner[-1, 0]) if inner is None else inner
    return 2.0 * (radius - finish.offset) / packing(finish)


def check_room(diameter: float, blank: Blank, finish: Finish) -> None:
    """InputRefused if several holes, or one beside the axis, do not fit.

    `Blank` checks one in the middle.
    """
    if finish.count == 1 and finish.offset == 0.0:
        return
    widest = widest_of(blank, finish)
    if diameter <= widest + HAIR:
        return
    if widest <= 0.0:
        raise InputRefused("is beyond the base", "Give less.", "hole.offset")
    what = "a hole" if finish.count == 1 else f"{finish.count} holes"
    widest_one = "" if finish.equal else " for the widest, with the others in proportion"
    beside = f", {finish.offset * 1e3:.4g} mm off the axis" if finish.offset else ""
    raise InputRefused(
        f"leaves no room for {what} on the inner base{beside}",
        f"Give at most {widest * 1e3:.6g} mm{widest_one}; they then touch each other or the wall.",
    )
