"""The section revolved about the axis: hexahedra, and wedges at the axis, in N equal sectors.

The cells have straight edges between two half planes, so each has the same share of the volume
swept by its polygon: sin(2 pi/N) / (2 pi/N), 0.995 for 36 sectors. Triangles of cut cells become
wedges too. Values are those of the middle of each sector.
"""

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl_post.exporting.field_mesh import Array, Block, FieldMesh, Numbers
from sinkbowl_post.exporting.section_mesh import Section

FEWEST_SECTORS, MOST_SECTORS = 3, 360


def revolved(section: Section, sectors: int) -> FieldMesh:
    """Mesh of a section revolved about the axis.

    Raises
    ------
    ResultError : the number of sectors is out of range
    """
    if not FEWEST_SECTORS <= sectors <= MOST_SECTORS:
        raise ResultError(
            f"--revolve {sectors}: give {FEWEST_SECTORS} to {MOST_SECTORS} sectors, 36 for a "
            "smooth bowl."
        )
    points, number = _turned(section.points, sectors)
    blocks = []
    for flat in (section.whole, section.triangles()):
        on_axis = section.points[flat.corners, 0] == 0.0
        for pattern in np.unique(on_axis, axis=0):
            chosen = np.all(on_axis == pattern, axis=1)
            blocks.append(_block(flat, chosen, pattern, number))
    return FieldMesh(points, tuple(blocks))


def _turned(points: Array, sectors: int) -> tuple[Array, Numbers]:
    """Points (n, 3) in space and their numbers (sectors + 1, m) in each half plane."""
    off_axis = points[:, 0] > 0.0
    off, on = np.flatnonzero(off_axis), np.flatnonzero(~off_axis)
    number = np.empty((sectors + 1, len(points)), dtype=np.intp)
    number[:, on] = np.arange(len(on))
    number[:, off] = (
        len(on) + np.arange(sectors + 1)[:, None] % sectors * len(off) + np.arange(len(off))
    )
    angle = 2.0 * np.pi * np.arange(sectors) / sectors
    r, z = points[off].T
    axis = np.column_stack((np.zeros((len(on), 2)), points[on, 1]))
    x, y = np.outer(np.cos(angle), r).ravel(), np.outer(np.sin(angle), r).ravel()
    return np.vstack((axis, np.column_stack((x, y, np.tile(z, sectors))))), number


def _block(flat: Block, chosen: Array, on_axis: Array, number: Numbers) -> Block:
    """Cells of the chosen polygons, all with the same corners on the axis."""
    corners, sectors = flat.corners[chosen], len(number) - 1
    ends, begins = number[1:, corners], number[:-1, corners]
    kind, order = _shape(on_axis)
    both = np.concatenate((ends, begins), axis=-1)[..., order]
    angle = 2.0 * np.pi * (np.arange(sectors) + 0.5) / sectors
    return Block(
        kind,
        both.reshape(-1, len(order)),
        np.tile(flat.cell[chosen], sectors),
        np.tile(flat.open_volume[chosen] / sectors, sectors),
        np.repeat(angle, np.count_nonzero(chosen)),
    )


def _shape(on_axis: Array) -> tuple[str, list[int]]:
    """Kind of cell swept by a polygon, and its corners.

    Numbers 0 ... k-1 are the polygon's corners at the sector's end, k ... 2k-1 at its start. A
    rectangle touches the axis with its left side or not at all.
    """
    k, touching = len(on_axis), np.flatnonzero(on_axis).tolist()
    if k == 4:
        return ("wedge", [0, 5, 1, 3, 6, 2]) if touching else ("hexahedron", list(range(8)))
    if not touching:
        return "wedge", list(range(6))
    if len(touching) == 1:
        a, (b, c) = touching[0], _after(touching[0])
        return "pyramid", [b, b + 3, c + 3, c, a]
    (free,) = {0, 1, 2} - set(touching)
    a, b = _after(free)
    return "tetra", [a, b, free, free + 3]


def _after(corner: int) -> tuple[int, int]:
    return (corner + 1) % 3, (corner + 2) % 3
