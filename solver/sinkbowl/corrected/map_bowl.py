"""One bowl of the map: a cone (a cup is an upright one) or a cap, as numbers of a table."""

from __future__ import annotations

from dataclasses import astuple, dataclass
from pathlib import Path

from sinkbowl.case.case import Case, parse_case


@dataclass(frozen=True)
class MapBowl:
    """What its case says; lengths [mm], mass [g].

    shape: "cone" or "cap"; radius, height, wall: outer ones, and of the shell; base_radius, base:
    of a cone, 0 for a cap; hole: its diameter.
    """

    shape: str
    radius: float
    height: float
    wall: float
    base_radius: float
    base: float
    hole: float
    mass: float

    @property
    def text(self) -> str:
        """Its case file."""
        lengths = {"radius": self.radius, "height": self.height, "wall": self.wall}
        if self.shape == "cone":
            lengths |= {"base_radius": self.base_radius, "base": self.base}
        return "\n".join(
            (
                f'title = "{self.name}"',
                "[bowl]",
                f'shape = "{self.shape}"',
                *(f'{key} = "{value:g} mm"' for key, value in lengths.items()),
                f'mass = "{self.mass:g} g"',
                "[hole]",
                f'diameter = "{self.hole:g} mm"',
            )
        )

    @property
    def name(self) -> str:
        """What tells it from all others."""
        return " ".join(f"{part:g}" if isinstance(part, float) else part for part in astuple(self))

    def case(self) -> Case:
        """The case, set down on still water of 20 degrees.

        Raises
        ------
        CaseError : there is no such bowl
        """
        return parse_case(self.text, Path(), self.name)
