"""Pieces of ballast from their tables, and the check that they fit on the bowl."""

import math
from collections.abc import Sequence
from dataclasses import replace

from sinkbowl.bowl.ballast import Piece, Ring, Tube
from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.bowl.clearance import clears, first_overlap, nearest_clear_height, off_the_wall
from sinkbowl.case.schema import BallastTable
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.shown import millimetres


def piece_of(table: BallastTable, bowl: Bowl) -> Piece:
    """The piece of a table, keys already checked."""
    height, material = table.height, table.material or ""
    if table.shape == "washer":
        inner, outer = 0.5 * _number(table.inner_diameter), 0.5 * _number(table.outer_diameter)
        thickness = _number(table.thickness)
        tube = Tube(table.mass or 0.0, inner, outer, height, thickness, material)
        if table.density is not None:
            tube = replace(tube, mass=table.density * tube.volume)
        return tube
    mass, radius, density = map(_number, (table.mass, table.radius, table.density))
    if table.shape == "ring":
        return Ring(mass, radius, height, density, material)
    # outwards from the wall, or inwards where only that has room
    width = _number(table.width)
    added = mass / density / (math.pi * width)
    outer, inner = math.sqrt(radius**2 + added), math.sqrt(max(radius**2 - added, 0.0))
    outward = Tube(mass, radius, outer, height, width, material, "band")
    inward = Tube(mass, inner, radius, height, width, material, "band")
    fits = clears(bowl, outward, height) or inner == 0.0 or not clears(bowl, inward, height)
    return outward if fits else inward


def check_pieces(pieces: Sequence[Piece], bowl: Bowl) -> None:
    """Refuse pieces that overlap the shell or each other, or cover the hole.

    Raises InputRefused with the place of the piece among all, and its key: "ballast 2.height".
    """
    for place, piece in enumerate(pieces, start=1):
        if isinstance(piece, Tube):
            _check_tube(piece, place, bowl)
        elif piece.section_radius >= piece.radius:
            raise InputRefused(
                "is too small for a ring of this mass and density",
                f"Give more than {millimetres(piece.section_radius)}.",
                f"ballast {place}.radius",
            )
        if not clears(bowl, piece, piece.height):
            thick = piece.highest - piece.lowest
            what = "ring" if isinstance(piece, Ring) else "piece"
            nearest = millimetres(nearest_clear_height(bowl, piece))
            raise InputRefused(
                f"makes the {what}, {millimetres(thick)} thick, cut into the bowl",
                f"The nearest possible height is {nearest}.",
                f"ballast {place}.height",
            )
    overlap = first_overlap(pieces)
    if overlap is not None:
        raise InputRefused(
            f"puts it into piece {overlap[0] + 1} of the ballast",
            "Set it higher or lower, or make it narrower.",
            f"ballast {overlap[1] + 1}.height",
        )


def _check_tube(tube: Tube, place: int, bowl: Bowl) -> None:
    if tube.inner >= tube.outer:
        raise InputRefused(
            "is not smaller than the outer diameter",
            "Give less.",
            f"ballast {place}.inner_diameter",
        )
    if tube.inner < bowl.hole_radius * (1.0 - 1e-9):
        raise InputRefused(
            "puts it in front of the hole",
            f"Give {millimetres(2.0 * bowl.hole_radius)} or more.",
            f"ballast {place}.inner_diameter",
        )
    beside = off_the_wall(bowl, tube) if tube.shape == "band" else None
    if beside is not None:
        inside, outside = (millimetres(radius, 5) for radius in beside)
        within = f" or {inside} for its inside" if beside[0] > bowl.hole_radius + COINCIDENT else ""
        raise InputRefused(
            "is not the radius of the wall at the band's height",
            f"Give {outside} for its outside{within}, or another height.",
            f"ballast {place}.radius",
        )


def _number(given: float | None) -> float:
    """A value that `rules` has found to be given."""
    assert given is not None
    return given
