"""Starter cases: those of the package, and a commented one for each shape of bowl."""

from difflib import get_close_matches
from itertools import zip_longest
from pathlib import Path
from textwrap import wrap

from pydantic.fields import FieldInfo

from sinkbowl.case.keys import table_of
from sinkbowl.case.schema import CaseTable, reader_of
from sinkbowl.common.errors import CaseError
from sinkbowl.common.units import Kind, in_unit, unit_of

BOWLS: dict[str, dict[str, str]] = {
    "cup": {
        "radius": "50 mm",
        "height": "60 mm",
        "wall": "2 mm",
        "base": "2 mm",
        "mass": "200 g",
    },
    "cone": {
        "radius": "60 mm",
        "base_radius": "40 mm",
        "height": "50 mm",
        "wall": "3 mm",
        "base": "4 mm",
        "density": "2700 kg/m^3",
    },
    "cap": {"radius": "70 mm", "height": "60 mm", "wall": "2 mm", "density": "8500 kg/m^3"},
    "profile": {"profile": "outline.csv", "wall": "2.5 mm", "density": "2700 kg/m^3"},
}
"""Keys of [bowl] of each shape."""

SET = {"hole.diameter": "12 mm", "hole.edge": "sharp", "start.kind": "set down"}
"""Keys besides those of the bowl that a starter case sets; the others stand there as comments."""

SHOWN: dict[str, str | float] = {
    "ballast.mass": "45 g",
    "ballast.radius": "30 mm",
    "hole.discharge_coefficient": 0.61,
    "water.surface_tension": "72.7 mN/m",
    "start.draft": "20 mm",
    "start.inside": "level",
    "flow.tub_depth": "300 mm",
    "uncertainty.mass": "1 g",
    "uncertainty.radius": "0.25 mm",
    "uncertainty.discharge_coefficient": 0.02,
}
"""Values of comments that are neither the default nor the example of their kind."""

OTHERS = "diameters inner_diameter outer_diameter thickness width material uncertainty.salinity"
"""Keys that do not go with the others."""

HEAD = """\
# A case for sinkbowl. Quantities are text with a unit; any usual unit of the right kind will do.
# Lines that begin with # are comments: they show the default values.

title = "My {shape}"
"""

BESIDE, WIDTH = 32, 100  # column in which the comment behind a key begins, and width of the page

STARTER_OUTLINE = """\
# Outer outline of a bowl, from the axis to the rim.
r [mm],z [mm]
0,0
20,0
28,1
36,5
43,12
49,22
54,34
58,46
61,56
"""
"""The outline.csv that the starter case of a profile names."""


def starter_case(shape: str) -> str:
    """Text of a commented case that can be loaded; "profile" needs STARTER_OUTLINE beside it.

    Raises CaseError if there is no such shape.
    """
    if shape not in BOWLS:
        raise CaseError(f'There is no shape "{shape}"', allowed=f"There are {', '.join(BOWLS)}.")
    bowl = {"shape": shape, **BOWLS[shape]}
    live = {**{f"bowl.{name}": value for name, value in bowl.items()}, **SET}
    parts = [HEAD.format(shape=shape).rstrip()]
    for table, entry in CaseTable.model_fields.items():
        model = table_of(entry)
        if model is None:
            continue
        words = str(model.__doc__).partition(": ")[2].rstrip(".")
        hidden = "# " if table in ("ballast", "uncertainty") else ""
        lines = [_line(f"{hidden}[{table}]", words)]
        for name, field in model.model_fields.items():
            key = f"{table}.{name}"
            if key in live:
                lines.append(_line(f"{name} = {_written(live[key])}", str(field.description)))
            elif table != "bowl" and not {name, key} & set(OTHERS.split()):
                lines.append(_line(f"# {name} = {_example(key, field)}", str(field.description)))
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _line(text: str, words: str) -> str:
    """A line with a comment behind it, on several lines where it is long."""
    comment = wrap(words, WIDTH - BESIDE - 2) or [""]
    return "\n".join(
        f"{begin:<{BESIDE - 1}} # {part}"
        for begin, part in zip_longest([text], comment, fillvalue="")
    )


def _example(key: str, field: FieldInfo) -> str:
    """What a key that is left out may be: its default, or an example."""
    default, reads = field.default, reader_of(field)
    if key in SHOWN:
        return _written(SHOWN[key])
    if isinstance(reads, Kind) and isinstance(default, float):
        unit = unit_of(reads.example)
        return _written(f"{in_unit(default, unit, reads):.6g} {unit}")
    return _written(reads.example if isinstance(reads, Kind) else default)


def _written(value: object) -> str:
    """A value as TOML has it."""
    return str(value).lower() if isinstance(value, bool | float | int) else f'"{value}"'


PLACES = (Path(__file__).parents[1] / "cases", Path(__file__).parents[3] / "cases")
"""In an installed package, and in a checkout that is installed editable."""


def shipped_cases() -> dict[str, Path]:
    """Case files by name (without .toml), in alphabetical order.

    Raises CaseError if the package was installed without them.
    """
    for place in PLACES:
        found = sorted(place.glob("*.toml"))
        if found:
            return {path.stem: path for path in found}
    raise CaseError(
        "The package's own cases are missing", file=PLACES[0], allowed="Install the package again."
    )


def shipped_case(name: str) -> Path:
    """File of a shipped case; CaseError if there is none of that name."""
    cases = shipped_cases()
    try:
        return cases[name.removesuffix(".toml")]
    except KeyError:
        near = get_close_matches(name, cases, 1)
        hint = f"Did you mean {near[0]}? " if near else ""
        raise CaseError(
            f'There is no shipped case "{name}"', allowed=f"{hint}There are {', '.join(cases)}."
        ) from None
