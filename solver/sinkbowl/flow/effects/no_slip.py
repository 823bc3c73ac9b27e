"""Velocities inside no-slip walls for the convection.

`extension.fill_wall_faces` sets slip values there. With no-slip, along a level or upright wall, the
velocity half a cell inside is minus that half a cell outside, relative to the bowl, so that their
mean is the bowl's. Convection then has the layer's slope in the first row of cells: with slip
values the error of the shear under a layer of five cells is up to a half. A face behind an oblique
wall is between zero and one cell from it, and gets the bowl's velocity.

This is valid if the first row is inside the layer. In a layer thinner than a cell a mirrored value
would mean slow water a whole cell thick, and the slip value is better: the reduction is limited to
the speed that a first row in a layer can have. The velocity normal to the wall is unchanged.

The upwind stencils reach two faces deep. On an aligned wall the normal is the face's own axis, so
that the value is the wall's velocity; both depths matter at the hole's edge, where they make the
jet contract.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid import Array, Grid
from sinkbowl.flow.solid import Solid
from sinkbowl.flow.state import FlowState

from .orifice_model import Orifice

MIRRORED = 2.0
"""Share subtracted from the slip value, relative to the bowl, behind a level or upright wall."""

STILL = 1.0  # the same behind an oblique wall

IN_LAYER = 50.0
"""u h/nu up to which the first row, h high, is inside the layer. In Blasius' layer with one cell in
sqrt(nu x/U) it is sqrt(Re_x)/6: 17 to 50 for Re_x of 1e4 to 1e5."""


@dataclass(frozen=True)
class NoSlip:
    """Closed faces along walls: share subtracted from their slip value, and its limit.

    r (k, 2) and z (m, 2) list them; share_r (k,), share_z (m,): MIRRORED or STILL; most_r (k,),
    most_z (m,): speeds past the bowl [m/s].
    """

    r: Faces
    share_r: Array
    most_r: Array
    z: Faces
    share_z: Array
    most_z: Array


def make_no_slip(
    grid: Grid, solid: Solid, walls: WallFaces, viscosity: float, hole: Orifice | None = None
) -> NoSlip:
    """Find the faces along walls; those in the zones of an unresolved hole slip.

    viscosity: kinematic [m^2/s].
    """
    height = _open_size(solid.area_r > 0.0, grid.dz)
    width = _open_size((solid.area_z > 0.0).T, grid.dr).T
    for still_r, still_z in (hole.below, hole.above) if hole else ():
        height[still_r] = width[still_z] = np.inf
    r, share_r, size_r = _shares(walls.r, walls.normal_r, height)
    z, share_z, size_z = _shares(walls.z, walls.normal_z, width)
    speed = IN_LAYER * viscosity
    return NoSlip(r, share_r, speed / size_r, z, share_z, speed / size_z)


def _open_size(is_open: NDArray[np.bool_], sizes: Array) -> Array:
    """Size of the smaller open cell beside a face along its second axis; infinite without one."""
    size = np.pad(np.where(is_open, sizes, np.inf), ((0, 0), (1, 1)), constant_values=np.inf)
    return np.asarray(np.minimum(size[:, 2:], size[:, :-2]))


def _shares(faces: Faces, normals: Array, size: Array) -> tuple[Faces, Array, Array]:
    """The faces with an open cell beside them, their shares, and the cells' sizes."""
    beside = size[tuple(faces.T)]
    chosen = np.isfinite(beside)
    aligned = np.count_nonzero(normals[chosen], axis=1) < 2
    return faces[chosen], np.where(aligned, MIRRORED, STILL), beside[chosen]


def apply_no_slip(state: FlowState, no_slip: NoSlip) -> None:
    """Turn the slip values of `fill_wall_faces` into no-slip values."""
    at_r, at_z = tuple(no_slip.r.T), tuple(no_slip.z.T)
    past = state.u_r[at_r]
    state.u_r[at_r] = past - no_slip.share_r * np.clip(past, -no_slip.most_r, no_slip.most_r)
    past = state.u_z[at_z] - state.speed
    state.u_z[at_z] -= no_slip.share_z * np.clip(past, -no_slip.most_z, no_slip.most_z)


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

    The normal of a cut cell beside the face; beside an uncut open cell the wall is aligned, and the
    normal is the face's own axis; inside the solid there is none (zero: the face slips).
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
