"""The straight cup that most tests sink, as the text of a case file."""

from pathlib import Path
from typing import Any

from sinkbowl.case.case import Case, parse_case

Quantity = float | str


def cup_text(
    hole: Quantity = 20,
    *,
    title: str = "",
    shape: str = "cup",
    radius: Quantity = 50,
    base_radius: Quantity | None = None,
    height: Quantity = 60,
    wall: Quantity = 2,
    base: Quantity | None = 2,
    mass: Quantity = 200,
    density: str = "",
    more: str = "",
) -> str:
    """A case file: lengths in mm and the mass in g where they are plain numbers.

    A density, "8500 kg/m^3", stands in place of the mass. The lines of `more` follow the hole's
    diameter: first other keys of [hole], then tables.
    """
    sizes = {"radius": radius, "base_radius": base_radius, "height": height, "wall": wall}
    sizes |= {"base": base if shape != "cap" else None}
    lines = [
        *([f'title = "{title}"'] if title else []),
        "[bowl]",
        f'shape = "{shape}"',
        *(f'{name} = "{_with_unit(size, "mm")}"' for name, size in sizes.items() if size),
        f'density = "{density}"' if density else f'mass = "{_with_unit(mass, "g")}"',
        "[hole]",
        f'diameter = "{_with_unit(hole, "mm")}"',
    ]
    return "\n".join([*lines, more.strip("\n"), ""])


def cup(hole: Quantity = 20, **changes: Any) -> Case:
    """The same as a case."""
    return parse_case(cup_text(hole, **changes), Path(), "cup.toml")


def ring_text(
    mass: Quantity = 60,
    radius: Quantity = 40,
    height: Quantity = -4,
    density: str = "8500 kg/m^3",
) -> str:
    """A table of ballast: mass in g and lengths in mm where they are plain numbers."""
    sizes = {"mass": _with_unit(mass, "g"), "radius": _with_unit(radius, "mm")}
    sizes |= {"height": _with_unit(height, "mm"), "density": density}
    return "\n[ballast]\n" + "".join(f'{name} = "{size}"\n' for name, size in sizes.items())


def top_heavy_cup(hole: Quantity = 5, mass: Quantity = 120, ring: Quantity = 45) -> Case:
    """Heels as it is set down and more while it fills: its ring is high above its foot."""
    return cup(hole, radius=45, height=75, mass=mass, more=ring_text(height=ring))


def _with_unit(value: Quantity, unit: str) -> str:
    return value if isinstance(value, str) else f"{value} {unit}"
