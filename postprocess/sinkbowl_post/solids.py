"""Solids in figures: outlines of bowl and ballast, with their materials.

A material not given in the case is chosen by density, for the colour only.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.ballast import outlines_of
from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result
from sinkbowl_post.style import MATERIALS

UP_TO = (
    (1000.0, "wood"),
    (1450.0, "plastic"),
    (2600.0, "putty"),
    (8200.0, "steel"),
    (8750.0, "brass"),
    (9500.0, "copper"),
)
"""Density [kg/m^3] up to which each material is assumed (handbook values, from memory)."""


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed outline (n, 2) of r, z [m] in the bowl frame, and its material."""

    outline: NDArray[np.float64]
    material: str

    @property
    def colours(self) -> tuple[str, str]:
        """Of its face and of its edge."""
        return MATERIALS[self.material]


def by_density(density: float) -> str:
    """The material that a density suggests."""
    return next((name for most, name in UP_TO if density <= most), "lead")


def solids_of(case: Case) -> list[Solid]:
    """The bowl, then each piece of its ballast."""
    bowl = case.bowl
    made_of = case.material or by_density(bowl.mass / bowl.solid_volume)
    found = [Solid(np.asarray(bowl.polygon), made_of)]
    for piece in case.ballast.pieces:
        found.append(Solid(piece.outline, piece.material or by_density(piece.density)))
    return found


def result_solids(result: Result) -> list[Solid]:
    """The same from a run's file; brass if its case cannot be read."""
    outlines = [result.grid["outline"], *outlines_of(result.ballast_outline)]
    try:
        materials = [solid.material for solid in solids_of(result.case)]
    except ResultError:
        materials = []
    materials += ["brass"] * (len(outlines) - len(materials))
    return [Solid(outline, name) for outline, name in zip(outlines, materials, strict=False)]
