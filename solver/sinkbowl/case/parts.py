"""Parts of a case besides its bowl: hole, start and options of the flow solver."""

import math
from dataclasses import dataclass, field
from typing import Literal


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
