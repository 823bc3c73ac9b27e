"""Viscosity and no-slip walls: which corners of cells carry shear, and over what distance.

A face's velocity stands at the middle of the face's open part. At a wall the water's velocity falls
from there to the bowl's at the end of the open part, so a corner with a closed face beside an open
one carries the wall's shear. Convection does not see the stick: an unresolved layer of slow water
is thinner than a cell, and the velocities that `extension.py` puts into walls go on slipping. The
tub's walls always slip.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .grid import Array, Grid
from .kernels import viscous
from .kernels.mesh import Mesh
from .orifice import Orifice
from .solid import Solid
from .state import FlowState

LEAST_GAP = 0.5
"""Least distance from a velocity to the wall or to the next one, in cells."""

FOURIER = 0.2
"""Largest nu dt (1/dr^2 + 1/dz^2): below 0.22 no row of the explicit terms exceeds 2 / dt."""


@dataclass(frozen=True)
class Friction:
    """Viscosity of the water and what its kernels need of the walls.

    viscosity: kinematic [m^2/s]. sheared (nr+1, nz+1): corners that carry shear; gap_r, gap_z
    (nr+1, nz+1): distances at a corner between the two u_z and the two u_r, or to the wall [m];
    width, height (nr, nz): the same between the faces of a cell. size_r, slack_r (nr+1, nz) and
    size_z, slack_z (nr, nz+1): volume that a face stands for [m^3 per radian] and longest stable
    nu dt there [m^2], shorter than `FOURIER`'s only in small cut cells. s_rr, s_zz, s_tt (nr, nz) and s_rz
    (nr+1, nz+1): stresses over the density, overwritten in each step [m^2/s^2].
    """

    viscosity: float
    sheared: NDArray[np.bool_]
    gap_r: Array
    gap_z: Array
    width: Array
    height: Array
    size_r: Array
    slack_r: Array
    size_z: Array
    slack_z: Array
    s_rr: Array
    s_zz: Array
    s_tt: Array
    s_rz: Array


def make_friction(
    grid: Grid, solid: Solid, viscosity: float, hole: Orifice | None = None
) -> Friction:
    """Prepare a kinematic viscosity [m^2/s]; the law of a closed hole holds its losses already."""
    full_z = np.outer(grid.r_c * grid.dr, np.ones(len(grid.z_f)))
    full_r = np.outer(np.where(grid.r_f > 0.0, grid.r_f, 1.0), grid.dz)
    corners = len(grid.r_f), len(grid.z_f)
    wide, high = np.meshgrid(grid.dr, grid.dz, indexing="ij")
    gap_r = _gaps(solid.area_z / full_z, grid.r_c, grid.dr)
    gap_z = _gaps((solid.area_r / full_r).T, grid.z_c, grid.dz).T
    width = _depths(solid.volume, solid.area_r[:-1], solid.area_r[1:], wide)
    height = _depths(solid.volume, solid.area_z[:, :-1], solid.area_z[:, 1:], high)
    corner = 1.0 / gap_r + 1.0 / gap_z
    apart_r, apart_z = np.diff(grid.r_c)[:, None], np.diff(grid.z_c)[None, :]
    size_r, size_z = np.ones_like(solid.area_r), np.ones_like(solid.area_z)
    slack_r, slack_z = np.full_like(size_r, np.inf), np.full_like(size_z, np.inf)
    size_r[1:-1] = _sizes(solid.volume[:-1], solid.volume[1:], solid.area_r[1:-1] * apart_r)
    size_z[:, 1:-1] = _sizes(
        solid.volume[:, :-1], solid.volume[:, 1:], solid.area_z[:, 1:-1] * apart_z
    )
    rim = grid.r_f[1:-1, None] * apart_r
    slack_r[1:-1] = 1.0 / (
        2.0 * (1.0 / width[:-1] + 1.0 / width[1:]) / apart_r
        + rim * (corner[1:-1, :-1] + corner[1:-1, 1:]) / size_r[1:-1]
    )
    corner = corner * grid.r_f[:, None]
    slack_z[:, 1:-1] = 1.0 / (
        2.0 * (1.0 / height[:, :-1] + 1.0 / height[:, 1:]) / apart_z
        + apart_z * (corner[:-1, 1:-1] + corner[1:, 1:-1]) / size_z[:, 1:-1]
    )
    return Friction(
        viscosity=viscosity,
        sheared=_sheared(solid, hole),
        gap_r=gap_r,
        gap_z=gap_z,
        width=width,
        height=height,
        size_r=size_r,
        slack_r=slack_r,
        size_z=size_z,
        slack_z=slack_z,
        s_rr=np.zeros(grid.shape),
        s_zz=np.zeros(grid.shape),
        s_tt=np.zeros(grid.shape),
        s_rz=np.zeros(corners),
    )


def _sheared(solid: Solid, hole: Orifice | None) -> NDArray[np.bool_]:
    """Corners inside the tub with an open face, those of a closed hole's zones left out."""
    r_open, z_open = solid.area_r > 0.0, solid.area_z > 0.0
    sheared = np.zeros((z_open.shape[0] + 1, z_open.shape[1]), dtype=np.bool_)
    sheared[1:-1, 1:-1] = (
        r_open[1:-1, :-1] | r_open[1:-1, 1:] | z_open[:-1, 1:-1] | z_open[1:, 1:-1]
    )
    for still_r, _ in (hole.below, hole.above) if hole else ():
        sheared[:, 1:-1] &= ~(still_r[:, :-1] & still_r[:, 1:])
    return sheared


def _sizes(first: Array, second: Array, through: Array) -> Array:
    return np.where(through > 0.0, np.maximum(0.5 * (first + second), through), 1.0)


def _gaps(share: Array, centres: Array, sizes: Array) -> Array:
    """Distances along the first axis between faces with these open shares, n faces to n + 1 gaps.

    The open part of a face lies at the side where its neighbour is the more open one.
    """
    padded = np.pad(share, ((1, 1), (0, 0)), mode="edge")
    side = np.sign(padded[2:] - padded[:-2])
    place = centres[:, None] + 0.5 * side * (1.0 - share) * sizes[:, None]
    least = LEAST_GAP * sizes[:, None]
    half = np.maximum(0.5 * share * sizes[:, None], least)
    is_open = share > 0.0
    both = is_open[1:] & is_open[:-1]
    apart = np.maximum(place[1:] - place[:-1], np.maximum(least[1:], least[:-1]))
    one = np.where(is_open[1:], half[1:], np.where(is_open[:-1], half[:-1], np.inf))
    gaps = np.full((share.shape[0] + 1, share.shape[1]), np.inf)
    gaps[1:-1] = np.where(both, apart, one)
    return gaps


def _depths(volume: Array, first: Array, second: Array, size: Array) -> Array:
    """Distance between the two faces of a cell, or from its only open one to the wall behind."""
    depth = size.copy()
    one = (first > 0.0) != (second > 0.0)
    mean = volume[one] / np.maximum(first, second)[one]
    depth[one] = np.clip(mean, LEAST_GAP * size[one], size[one])
    return depth


def longest_viscous_step(grid: Grid, friction: Friction) -> float:
    """Longest stable time step of the viscous terms [s]."""
    rate = friction.viscosity * (1.0 / grid.dr.min() ** 2 + 1.0 / grid.dz.min() ** 2)
    return float(FOURIER / rate)


def rub(state: FlowState, mesh: Mesh, friction: Friction, dt: float, density: float) -> float:
    """Add the viscous acceleration of the velocity before the step; the upward force on the bowl.

    Call after `predict_velocity`, which keeps that velocity; the force is in N.
    """
    f, nu = friction, friction.viscosity
    u_r, u_z, liquid, virtual = state.u_r_old, state.u_z_old, state.liquid, state.virtual
    viscous.cell_stress(
        mesh, liquid, f.width, f.height, nu, state.speed, u_r, u_z, f.s_rr, f.s_zz, f.s_tt
    )
    viscous.corner_stress(
        mesh, liquid, f.sheared, f.gap_r, f.gap_z, nu, state.speed, u_r, u_z, f.s_rz
    )
    viscous.push_r(
        mesh, virtual, liquid, f.size_r, f.slack_r, nu, dt, f.s_rr, f.s_tt, f.s_rz, state.u_r
    )
    shear = viscous.push_z(
        mesh, virtual, liquid, f.size_z, f.slack_z, nu, dt, f.s_zz, f.s_rz, state.u_z
    )
    normal = viscous.normal_lift(mesh, liquid, f.s_zz)
    return float(-2.0 * np.pi * density * (normal + shear))
