"""Closed faces that the upwind stencils reach, and the wall's normal at each of them.

The stencils reach two faces deep. On an aligned wall the normal is the face's own axis, so that
the value is the wall's velocity; both depths matter at the hole's edge, where they make the jet
contract.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .grid import Array
from .solid import Solid

Faces = NDArray[np.int64]


@dataclass(frozen=True)
class WallFaces:
    """Closed faces beside open ones and the wall's unit normal there; see `fill_wall_faces`."""

    r: Faces
    normal_r: Array
    z: Faces
    normal_z: Array


def wall_faces(solid: Solid) -> WallFaces:
    """List the closed faces up to two faces from an open one of the same component."""
    faces_r = _near_open(solid.area_r)
    faces_z = _near_open(solid.area_z)
    faces_r = faces_r[(faces_r[:, 0] > 0) & (faces_r[:, 0] < solid.area_r.shape[0] - 1)]
    return WallFaces(
        r=faces_r,
        normal_r=_normals(solid, faces_r, 0),
        z=faces_z,
        normal_z=_normals(solid, faces_z, 1),
    )


def _near_open(area: Array) -> Faces:
    """Closed faces within two faces of an open one along a grid line; nearest first."""
    near = area > 0.0
    layers = []
    for _ in range(2):
        p = np.pad(near, 1)
        beside = p[2:, 1:-1] | p[:-2, 1:-1] | p[1:-1, 2:] | p[1:-1, :-2]
        layers.append(np.argwhere(beside & ~near))
        near = near | beside
    return np.concatenate(layers)


def _normals(solid: Solid, faces: Faces, axis: int) -> Array:
    """Wall normal at each face.

    A cut cell beside the face lends its normal; an uncut open cell shows an aligned wall, whose
    normal is the face's own axis; inside the solid there is none, and the face slips (zero).
    """
    normals = np.zeros((len(faces), 2))
    cut, is_open = solid.cut_cells, solid.open_cells
    for k, (i, j) in enumerate(faces):
        cells = [(i - 1, j), (i, j)] if axis == 0 else [(i, j - 1), (i, j)]
        cells = [c for c in cells if 0 <= c[0] < cut.shape[0] and 0 <= c[1] < cut.shape[1]]
        found = [c for c in cells if cut[c]]
        if found:
            normals[k] = solid.plane[found[0]][:2]
        elif any(is_open[c] for c in cells):
            normals[k, axis] = 1.0
        else:
            normals[k] = _nearby_normal(solid, int(i), int(j))
    return normals


def _nearby_normal(solid: Solid, i: int, j: int) -> Array:
    block = solid.plane[max(i - 1, 0) : i + 2, max(j - 1, 0) : j + 2, :2].reshape(-1, 2)
    total = block.sum(axis=0)
    size = float(np.hypot(*total))
    return np.asarray(total / size) if size > 0.0 else np.zeros(2)
