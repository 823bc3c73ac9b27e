"""The straight cup that most tests sink, as the text of a case file."""

from pathlib import Path
from typing import Any

from sinkbowl.case.case import Case, parse_case

Quantity = float | str


def cup_text(
    hole: Quantity = 20,
    *,
    title: str = "",
    radius: Quantity = 50,
    height: Quantity = 60,
    wall: Quantity = 2,
    base: Quantity = 2,
    mass: Quantity = 200,
    density: str = "",
    more: str = "",
) -> str:
    """A case file: lengths in mm and the mass in g where they are plain numbers.

    A density, "8500 kg/m^3", stands in place of the mass. The lines of `more` follow the hole's
    diameter: first other keys of [hole], then tables.
    """
    sizes = {"radius": radius, "height": height, "wall": wall, "base": base}
    lines = [
        *([f'title = "{title}"'] if title else []),
        "[bowl]",
        'shape = "cup"',
        *(f'{name} = "{_with_unit(size, "mm")}"' for name, size in sizes.items()),
        f'density = "{density}"' if density else f'mass = "{_with_unit(mass, "g")}"',
        "[hole]",
        f'diameter = "{_with_unit(hole, "mm")}"',
    ]
    return "\n".join([*lines, more.strip("\n"), ""])


def cup(hole: Quantity = 20, **changes: Any) -> Case:
    """The same as a case."""
    return parse_case(cup_text(hole, **changes), Path(), "cup.toml")


TOP_RING = """
[ballast]
mass = "60 g"
radius = "40 mm"
height = "{height}"
density = "8500 kg/m^3"
"""


def top_heavy_cup(hole: Quantity = 5, mass: Quantity = 120, ring: str = "45 mm") -> Case:
    """Heels as it is set down and more while it fills: its ring is high above its foot."""
    return cup(hole, radius=45, height=75, mass=mass, more=TOP_RING.format(height=ring))


def _with_unit(value: Quantity, unit: str) -> str:
    return value if isinstance(value, str) else f"{value} {unit}"
