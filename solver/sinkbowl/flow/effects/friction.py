"""Viscosity and no-slip walls: which corners of cells carry shear, and over what distance.

A face's velocity stands at the middle of the face's open part. At a wall the water's velocity falls
from there to the bowl's at the end of the open part, so a corner with a closed face beside an open
one carries the wall's shear. What convection finds inside such walls is in `stick.py`. The tub's
walls always slip, and so does the lid of a gate.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid.grid import Array, Grid
from sinkbowl.flow.grid.solid import Solid
from sinkbowl.flow.kernels import viscous
from sinkbowl.flow.kernels.mesh import Mesh
from sinkbowl.flow.state import FlowState

from .orifice import Orifice

LEAST_GAP = 0.5
"""Least distance from a velocity to the wall or the next one, in cells: that at aligned walls."""

FITTED = ("sheared", "gap_r", "gap_z", "width", "height")
"""Arrays of `Friction` that change with the grid."""

FOURIER = 0.2
"""Largest nu dt (1/dr^2 + 1/dz^2), with which every face at an aligned wall is still stable."""


@dataclass(frozen=True)
class Shares:
    """What one component's faces stand for, both of the faces' shape.

    size: volume [m^3 per radian]; most: longest stable time step [s], shorter than `FOURIER` says
    only in small cut cells, which then feel viscosity for that long in each step.
    """

    size: Array
    most: Array


@dataclass(frozen=True)
class Stress:
    """Stresses over the density [m^2/s^2], overwritten in each step.

    rr, zz, tt, nn (nr, nz): the last at the surface; rz (nr+1, nz+1).
    """

    rr: Array
    zz: Array
    tt: Array
    nn: Array
    rz: Array


@dataclass(frozen=True)
class Friction:
    """Viscosity of the water and what its kernels need of the walls.

    viscosity: kinematic [m^2/s]. sheared (nr+1, nz+1): corners that carry shear; gap_r, gap_z
    (nr+1, nz+1): distances at a corner between the two u_z and the two u_r, or to the wall [m];
    width, height (nr, nz): the same between the faces of a cell.
    """

    viscosity: float
    sheared: NDArray[np.bool_]
    gap_r: Array
    gap_z: Array
    width: Array
    height: Array
    r: Shares
    z: Shares
    stress: Stress


def make_friction(
    grid: Grid, solid: Solid, viscosity: float, hole: Orifice | None = None
) -> Friction:
    """Prepare a kinematic viscosity [m^2/s]; the law of a closed hole holds its losses already."""
    dr, dz = np.meshgrid(grid.dr, grid.dz, indexing="ij")
    full_z = np.outer(grid.r_c * grid.dr, np.ones(len(grid.z_f)))
    full_r = np.outer(np.where(grid.r_f > 0.0, grid.r_f, 1.0), grid.dz)
    gap_r = _gaps(solid.area_z / full_z, grid.r_c, grid.dr)
    gap_z = np.ascontiguousarray(_gaps((solid.area_r / full_r).T, grid.z_c, grid.dz).T)
    width = _depths(solid.volume, solid.area_r[:-1], solid.area_r[1:], dr)
    height = _depths(solid.volume, solid.area_z[:, :-1], solid.area_z[:, 1:], dz)
    pull = viscosity * (1.0 / gap_r + 1.0 / gap_z) * grid.r_f[:, None]
    both_ends = pull[:, :-1] + pull[:, 1:], pull[:-1] + pull[1:]
    return Friction(
        viscosity=viscosity,
        sheared=_sheared(solid, hole),
        gap_r=gap_r,
        gap_z=gap_z,
        width=width,
        height=height,
        r=_shares(grid.r_c, solid.volume, solid.area_r, viscosity / width, both_ends[0]),
        z=_turned(
            _shares(grid.z_c, solid.volume.T, solid.area_z.T, viscosity / height.T, both_ends[1].T)
        ),
        stress=Stress(*(np.zeros(shape) for shape in (*[grid.shape] * 4, pull.shape))),
    )


def refit(friction: Friction, grid: Grid, solid: Solid, hole: Orifice | None, bottom: int) -> None:
    """Take over a grid whose lowest open row, `bottom`, stands on the tub's floor, which slips."""
    now = make_friction(grid, solid, friction.viscosity, hole)
    now.sheared[:, : bottom + 1] = False
    pairs = [(getattr(friction, name), getattr(now, name)) for name in FITTED]
    for old, new in (*pairs, *zip(_parts(friction), _parts(now), strict=True)):
        old[...] = new


def _parts(friction: Friction) -> tuple[Array, ...]:
    return friction.r.size, friction.r.most, friction.z.size, friction.z.most


def _sheared(solid: Solid, hole: Orifice | None) -> NDArray[np.bool_]:
    """Corners inside the tub with an open face, those of a closed hole's zones left out.

    Corners inside a lid without thickness, which has water on both sides, carry none either.
    """
    r_open, z_open = solid.area_r > 0.0, solid.area_z > 0.0
    sheared = np.zeros((z_open.shape[0] + 1, z_open.shape[1]), dtype=np.bool_)
    sheared[1:-1, 1:-1] = (
        r_open[1:-1, :-1] | r_open[1:-1, 1:] | z_open[:-1, 1:-1] | z_open[1:, 1:-1]
    )
    through_level = r_open[1:-1, :-1] & r_open[1:-1, 1:] & ~z_open[:-1, 1:-1] & ~z_open[1:, 1:-1]
    through_upright = z_open[:-1, 1:-1] & z_open[1:, 1:-1] & ~r_open[1:-1, :-1] & ~r_open[1:-1, 1:]
    sheared[1:-1, 1:-1] &= ~(through_level | through_upright)
    for still_r, _ in (hole.below, hole.above) if hole else ():
        sheared[:, 1:-1] &= ~(still_r[:, :-1] & still_r[:, 1:])
    return sheared


def _gaps(share: Array, centres: Array, sizes: Array) -> Array:
    """Distances along the first axis between faces with these open shares, n faces to n + 1 gaps.

    The open part of a face lies at the side where its neighbour is the more open one.
    """
    padded = np.pad(share, ((1, 1), (0, 0)), mode="edge")
    side = np.sign(padded[2:] - padded[:-2])
    place = centres[:, None] + 0.5 * side * (1.0 - share) * sizes[:, None]
    half = np.broadcast_to(LEAST_GAP * sizes[:, None], share.shape)
    is_open = share > 0.0
    both = is_open[1:] & is_open[:-1]
    apart = np.maximum(place[1:] - place[:-1], np.maximum(half[1:], half[:-1]))
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


def _shares(centres: Array, volume: Array, area: Array, normal: Array, pull: Array) -> Shares:
    """Shares of the faces across the first axis.

    normal (n, m): viscosity over the depth of cells; pull (n+1, m): over the gaps at both corners
    of a face, times the radius there.
    """
    apart = np.diff(centres)[:, None]
    mean = 0.5 * (volume[:-1] + volume[1:])
    size = np.maximum(mean, area[1:-1] * apart)
    size[size == 0.0] = 1.0
    rate = 2.0 * (normal[:-1] + normal[1:]) / apart + pull[1:-1] * apart / size
    shares = Shares(np.ones_like(area), np.full_like(area, np.inf))
    shares.size[1:-1], shares.most[1:-1] = size, 1.0 / rate
    return shares


def _turned(shares: Shares) -> Shares:
    return Shares(np.ascontiguousarray(shares.size.T), np.ascontiguousarray(shares.most.T))


def longest_viscous_step(grid: Grid, friction: Friction) -> float:
    """Longest stable time step of the viscous terms [s]."""
    rate = friction.viscosity * (1.0 / grid.dr.min() ** 2 + 1.0 / grid.dz.min() ** 2)
    return float(FOURIER / rate)


def rub(
    state: FlowState,
    mesh: Mesh,
    friction: Friction,
    dt: float,
    density: float,
    over_floor: bool = False,
) -> float:
    """Add the viscous acceleration of the velocity before the step; the upward force on the bowl.

    Call after `predict_velocity`, which keeps that velocity; the force is in N. over_floor: the
    closed faces under the lowest open row are the tub's floor, which rests, not the bowl.
    """
    f, s, nu = friction, friction.stress, friction.viscosity
    u_r, u_z, liquid, virtual = state.u_r_old, state.u_z_old, state.liquid, state.virtual
    viscous.cell_stress(
        mesh, liquid, f.width, f.height, nu, state.speed, u_r, u_z, s.rr, s.zz, s.tt
    )
    if over_floor:
        b = state.bottom
        rising = 2.0 * nu * u_z[:, b + 1] / f.height[:, b]
        s.zz[:, b] = np.where(liquid[:, b], rising, 0.0)
    viscous.corner_stress(
        mesh, liquid, f.sheared, f.gap_r, f.gap_z, nu, state.speed, u_r, u_z, s.rz
    )
    viscous.surface_stress(mesh, liquid, s.rr, s.zz, s.nn)
    viscous.push_r(
        mesh, virtual, liquid, f.r.size, f.r.most, nu, dt, s.rr, s.tt, s.nn, s.rz, state.u_r
    )
    shear = viscous.push_z(
        mesh, virtual, liquid, f.z.size, f.z.most, nu, dt, s.zz, s.nn, s.rz, state.u_z
    )
    normal = viscous.normal_lift(mesh, liquid, s.zz)
    return float(-2.0 * np.pi * density * (normal + shear))
