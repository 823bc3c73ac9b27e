"""Pieces of ballast from their tables, and whether they fit on the bowl.

In the r-z plane a ring is a circle and the shell a polygon. They do not overlap if the circle's
centre is outside the polygon and at least the circle's radius away from its outline. A tube is a
rectangle, which may touch the polygon but not overlap it.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from shapely import Polygon, box

from sinkbowl.bowl.ballast import Piece, Ring, Tube
from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.bowl.hull import FloatArray, distance_to
from sinkbowl.case.schema import BallastTable
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.numerics import bisected
from sinkbowl.common.shown import millimetres

GRADUATION = 1e-5  # proposed heights are multiples of this [m]
LOOSE = 1e-3  # widest gap [m] between a wall and a band that is pressed on it
STRIDES = 400  # number of steps over bowl and piece in the search for a tube's clear height


def room(bowl: Bowl, radius: float, height: float) -> float:
    """Largest section radius [m] of a ring at a radius and height [m].

    0 if its centre line lies in the shell.
    """
    if bowl.contains(radius, height):
        return 0.0
    outline = np.vstack((bowl.polygon, bowl.polygon[:1]))
    return distance_to(np.array([radius, height]), outline)


def clears(bowl: Bowl, piece: Piece, height: float) -> bool:
    """Whether the piece, its centre at a height [m], at most touches the shell."""
    if isinstance(piece, Ring):
        return room(bowl, piece.radius, height) >= piece.section_radius - COINCIDENT
    moved = replace(piece, height=height)
    spare = COINCIDENT
    inner = box(
        moved.inner + spare, moved.lowest + spare, moved.outer - spare, moved.highest - spare
    )
    return not inner.intersects(Polygon(bowl.polygon))


def off_the_wall(bowl: Bowl, band: Tube) -> tuple[float, float] | None:
    """Inner and outer radius [m] of the shell beside a band that cuts into it or hangs off it.

    Rounded so that a band of that radius clears the shell; None if the band lies against it, or
    none of it is at the band's height.
    """
    shell = Polygon(bowl.polygon)
    beside = shell.intersection(box(0.0, band.lowest, 2.0 * shell.bounds[2], band.highest))
    if beside.area == 0.0:
        return None
    gap = Polygon(band.outline).distance(shell)
    if gap <= LOOSE and clears(bowl, band, band.height):
        return None
    inner, outer = np.array(beside.bounds)[[0, 2]] / GRADUATION
    return GRADUATION * math.floor(inner + 0.01), GRADUATION * math.ceil(outer - 0.01)


def first_overlap(pieces: Sequence[Piece]) -> tuple[int, int] | None:
    """Indices of two pieces that overlap; None if all at most touch."""
    sections = [Polygon(piece.outline).buffer(-COINCIDENT) for piece in pieces]
    for j, section in enumerate(sections):
        for i in range(j):
            if section.intersects(sections[i]):
                return i, j
    return None


def nearest_clear_height(bowl: Bowl, piece: Piece) -> float:
    """Height [m] nearest to the piece's own at which it clears the shell.

    A ring touches there: the circle's centre lies above a corner at the radius of the section, or
    on a line beside a segment at that distance. For a tube: search in steps, then bisection.
    """
    if isinstance(piece, Ring):
        touching = _touching(bowl.polygon, piece.radius, piece.section_radius)
        steps = touching / GRADUATION
        proposed = GRADUATION * np.unique(np.concatenate((np.floor(steps), np.ceil(steps))))
        by_distance = proposed[np.argsort(np.abs(proposed - piece.height))]
        return next(float(height) for height in by_distance if clears(bowl, piece, float(height)))
    stride = (bowl.rim_height + piece.thickness) / STRIDES
    for k in range(1, 4 * STRIDES):
        for way in (-1.0, 1.0):
            free, shut = piece.height + way * k * stride, piece.height + way * (k - 1) * stride
            if clears(bowl, piece, free):
                free, _ = bisected(partial(clears, bowl, piece), free, shut, 0.1 * GRADUATION)
                rounded = np.ceil(way * free / GRADUATION - 0.2) * way * GRADUATION
                return float(rounded) if clears(bowl, piece, float(rounded)) else free
    return piece.height + 4.0 * (bowl.rim_height + piece.thickness)


def _touching(polygon: FloatArray, radius: float, section: float) -> FloatArray:
    """Heights [m] at which a circle about `radius` touches a corner or a side's line."""
    r, z = polygon.T
    rise = np.sqrt(np.maximum(section**2 - (r - radius) ** 2, 0.0))
    near = np.abs(r - radius) <= section
    corners = np.concatenate(((z + rise)[near], (z - rise)[near]))
    along = np.roll(polygon, -1, axis=0) - polygon
    level = np.abs(along[:, 0]) > COINCIDENT
    dr, dz = along[level].T
    on_line = z[level] + (radius - r[level]) * dz / dr
    beside = section * np.hypot(1.0, dz / dr)
    return np.concatenate((corners, on_line + beside, on_line - beside))


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
