"""Cases to start from: those of the package, and a commented one for each shape of bowl."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path

from sinkbowl.common.errors import CaseError

BOWLS = {
    "cup": """\
radius = "50 mm"          # outer, at the rim
height = "60 mm"          # outer
wall = "2 mm"             # thickness of the wall
base = "2 mm"             # thickness of the base
mass = "200 g"            # the bowl alone; or: density = "7900 kg/m^3" for the material""",
    "cone": """\
radius = "60 mm"          # outer, at the rim
base_radius = "40 mm"     # outer, at the base
height = "50 mm"          # outer
wall = "3 mm"             # thickness, perpendicular to the slanted wall
base = "4 mm"             # thickness of the base
density = "2700 kg/m^3"   # of the material; or: mass = "240 g" for the bowl alone""",
    "cap": """\
radius = "70 mm"          # outer, at the rim
height = "60 mm"          # outer depth before drilling, from the lowest point to the rim
wall = "2 mm"             # thickness, along the sphere's radius
density = "8500 kg/m^3"   # of the material; or: mass = "440 g" for the bowl alone""",
    "profile": """\
profile = "outline.csv"   # outer outline r, z from the hole's edge or the axis to the rim; or a
                          # mesh, .stl, .obj ..., with: unit = "mm", and if needed axis = "z"
wall = "2.5 mm"           # thickness, perpendicular to the outline
density = "2700 kg/m^3"   # of the material; or: mass = "150 g" for the bowl alone""",
}

TEMPLATE = """\
# A case for sinkbowl. Quantities are text with a unit; any usual unit of the right kind will do.
# Lines that begin with # are comments: they show the default values.

title = "My {shape}"

[bowl]
shape = "{shape}"
{bowl}

[hole]
diameter = "12 mm"
edge = "sharp"            # edge of the hole: sharp or rounded
# discharge_coefficient = 0.61   # for the reduced models, once you have measured yours

# [ballast]                # a ring under or in the bowl; several pieces: [[ballast]] for each
# shape = "ring"           # round section; or washer (inner_diameter, outer_diameter, thickness)
                           # or band (of putty: radius of the wall that it is pressed on, width)
# mass = "45 g"
# radius = "30 mm"         # of the ring's centre line
# height = "-4 mm"         # of its middle above the outer bottom; below it: negative
# density = "8500 kg/m^3"  # brass

[water]
# temperature = "20 degC"
# contact_angle = "60 deg" # advancing, of water on the dry bowl
# salinity = "0 g/kg"      # of sea salt; the sea has 35 g/kg
# surface_tension = "72.7 mN/m"  # default: that of clean water; with soap about 30 mN/m

[start]
kind = "set down"         # at rest at its dry draft; or "held", or "drop", or "push"
# draft = "20 mm"          # with "held": of the lowest point while it is held by the rim
# inside = "level"         # with "held": hole open, water level inside; or "dry", hole stopped
# drop_height = "10 mm"    # with "drop": of the lowest point above the water
# push = "0.05 N s"        # with "push": impulse downwards

[flow]
# cell = "1 mm"            # default: from hole and wall
# tub_radius = "150 mm"    # default: three rim radii, with at least 100 mm of water
# tub_depth = "300 mm"     # of its water, down to the floor; default: deep
# beach = "60 mm"          # absorbs waves along the tub's wall; default: none
# answer = "quick"         # or "good": cells half as wide at the hole's edge and over the base
# hole = "auto"            # narrow holes follow a discharge law; or "resolved", or "closed"
# wall = "no-slip"         # viscous water that sticks; "slip": water without viscosity
# surface_tension = false  # true: includes it; a dry hole then opens at its breakthrough head

# [uncertainty]                 # standard uncertainties, for sinkbowl check --uncertainty
# hole = "0.05 mm"
# mass = "1 g"
# radius = "0.25 mm"
# temperature = "1 K"
# contact_angle = "10 deg"
# discharge_coefficient = 0.02
# timing = "0.1 s"
"""

OUTLINE = """\
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


def starter_case(shape: str) -> str:
    """Text of a commented case that loads as it is; "profile" needs `starter_outline` beside it.

    Raises
    ------
    CaseError : if there is no such shape
    """
    if shape not in BOWLS:
        raise CaseError(f'There is no shape "{shape}"', allowed=f"There are {', '.join(BOWLS)}.")
    return TEMPLATE.format(shape=shape, bowl=BOWLS[shape])


def starter_outline() -> str:
    """Text of the outline.csv that the starter case of a profile names."""
    return OUTLINE


PLACES = (Path(__file__).parents[1] / "cases", Path(__file__).parents[3] / "cases")
"""In an installed package, and in a checkout that is installed editable."""


def shipped_cases() -> dict[str, Path]:
    """Case files by name (without .toml), in alphabetical order.

    Raises
    ------
    CaseError : if the package was installed without them
    """
    for place in PLACES:
        found = sorted(place.glob("*.toml"))
        if found:
            return {path.stem: path for path in found}
    raise CaseError(
        "The package's own cases are missing",
        file=PLACES[0],
        allowed="Install the package again.",
    )


def shipped_case(name: str) -> Path:
    """File of a shipped case.

    Raises
    ------
    CaseError : if there is none of that name
    """
    cases = shipped_cases()
    try:
        return cases[name.removesuffix(".toml")]
    except KeyError:
        near = get_close_matches(name, cases, 1)
        hint = f"Did you mean {near[0]}? " if near else ""
        raise CaseError(
            f'There is no shipped case "{name}"', allowed=f"{hint}There are {', '.join(cases)}."
        ) from None
