"""Viscosity and no-slip walls: corners with shear, and distances of velocities.

A face's velocity is at the middle of its open part. At a wall the velocity falls from there to the
bowl's at the end of the open part, so a corner with a closed face beside an open one has the wall's
shear. `no_slip.py` has the wall values for convection. The tub's walls and the lid of a gate always
slip.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid import Array
from sinkbowl.flow.kernels import Mesh, viscous
from sinkbowl.flow.state import FlowState

from . import Exchange, Force
from .orifice_model import Orifice

LEAST_GAP = 0.5
"""Minimum distance of a velocity to the wall or the next one, in cells: that at aligned walls."""

FITTED = ("sheared", "gap_r", "gap_z", "width", "height")
"""Arrays of `Friction` that change with the grid."""

FOURIER = 0.2  # largest nu dt (1/dr^2 + 1/dz^2) with which every face at an aligned wall is stable


@dataclass(frozen=True)
class Shares:
    """Volumes of one component's faces, in the faces' shape.

    size: volume [m^3 per radian]; most: longest stable time step [s], shorter than by `FOURIER`
    only in small cut cells, where viscosity acts only for that time in each step.
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
class Friction(Force):
    """Viscosity of the water and data of the walls for its kernels.

    viscosity: kinematic [m^2/s]; density: of the water [kg/m^3]; hole: a closed one; over_floor:
    the closed faces under the lowest open row are the tub's floor, which rests, not the bowl.
    sheared (nr+1, nz+1): corners that carry shear; gap_r, gap_z
    (nr+1, nz+1): distances at a corner between the two u_z and the two u_r, or to the wall [m];
    width, height (nr, nz): the same between the faces of a cell.
    """

    viscosity: float
    density: float
    hole: Orifice | None
    over_floor: bool
    sheared: NDArray[np.bool_]
    gap_r: Array
    gap_z: Array
    width: Array
    height: Array
    r: Shares
    z: Shares
    stress: Stress
    column: ClassVar[str] = "viscous_force"

    def act(self, state: FlowState, mesh: Mesh, stride: float) -> Exchange:
        """Add the viscous acceleration of the velocity that `predict_velocity` kept."""
        s, nu = self.stress, self.viscosity
        u_r, u_z, liquid, extended = state.u_r_old, state.u_z_old, state.liquid, state.extended
        viscous.cell_stress(
            mesh, liquid, self.width, self.height, nu, state.speed, u_r, u_z, s.rr, s.zz, s.tt
        )
        if self.over_floor:
            b = state.bottom
            rising = 2.0 * nu * u_z[:, b + 1] / self.height[:, b]
            s.zz[:, b] = np.where(liquid[:, b], rising, 0.0)
        viscous.corner_stress(
            mesh, liquid, self.sheared, self.gap_r, self.gap_z, nu, state.speed, u_r, u_z, s.rz
        )
        viscous.surface_stress(mesh, liquid, s.rr, s.zz, s.nn)
        size, most = self.r.size, self.r.most
        viscous.push_r(
            mesh, extended, liquid, size, most, nu, stride, s.rr, s.tt, s.nn, s.rz, state.u_r
        )
        size, most = self.z.size, self.z.most
        shear = viscous.push_z(
            mesh, extended, liquid, size, most, nu, stride, s.zz, s.nn, s.rz, state.u_z
        )
        normal = viscous.normal_lift(mesh, liquid, s.zz)
        return Exchange(on_bowl=float(-2.0 * np.pi * self.density * (normal + shear)))

    def longest_step(self, state: FlowState, mesh: Mesh) -> float:
        """Longest time step [s] with which the viscous terms are stable."""
        rate = self.viscosity * (1.0 / mesh.dr.min() ** 2 + 1.0 / mesh.dz.min() ** 2)
        return float(FOURIER / rate)

    def refit(self, mesh: Mesh, bottom: int) -> None:
        """Adapt to changed rows; the floor under them slips."""
        now = make_friction(mesh, self.viscosity, self.density, self.hole)
        now.sheared[:, : bottom + 1] = False
        pairs = [(getattr(self, name), getattr(now, name)) for name in FITTED]
        for old, new in (*pairs, *zip(_parts(self), _parts(now), strict=True)):
            old[...] = new


def make_friction(
    mesh: Mesh,
    viscosity: float,
    density: float,
    hole: Orifice | None = None,
    over_floor: bool = False,
) -> Friction:
    """Prepare a kinematic viscosity [m^2/s]; an orifice model includes its losses."""
    dr, dz = np.meshgrid(mesh.dr, mesh.dz, indexing="ij")
    full_z = np.outer(mesh.r_c * mesh.dr, np.ones(len(mesh.z_f)))
    full_r = np.outer(np.where(mesh.r_f > 0.0, mesh.r_f, 1.0), mesh.dz)
    gap_r = _gaps(mesh.area_z / full_z, mesh.r_c, mesh.dr)
    gap_z = np.ascontiguousarray(_gaps((mesh.area_r / full_r).T, mesh.z_c, mesh.dz).T)
    width = _depths(mesh.volume, mesh.area_r[:-1], mesh.area_r[1:], dr)
    height = _depths(mesh.volume, mesh.area_z[:, :-1], mesh.area_z[:, 1:], dz)
    pull = viscosity * (1.0 / gap_r + 1.0 / gap_z) * mesh.r_f[:, None]
    both_ends = pull[:, :-1] + pull[:, 1:], pull[:-1] + pull[1:]
    z = _shares(mesh.z_c, mesh.volume.T, mesh.area_z.T, viscosity / height.T, both_ends[1].T)
    return Friction(
        viscosity=viscosity,
        density=density,
        hole=hole,
        over_floor=over_floor,
        sheared=_sheared(mesh, hole),
        gap_r=gap_r,
        gap_z=gap_z,
        width=width,
        height=height,
        r=_shares(mesh.r_c, mesh.volume, mesh.area_r, viscosity / width, both_ends[0]),
        z=Shares(np.ascontiguousarray(z.size.T), np.ascontiguousarray(z.most.T)),
        stress=Stress(*(np.zeros(shape) for shape in (*[mesh.volume.shape] * 4, pull.shape))),
    )


def _parts(friction: Friction) -> tuple[Array, ...]:
    return friction.r.size, friction.r.most, friction.z.size, friction.z.most


def _sheared(mesh: Mesh, hole: Orifice | None) -> NDArray[np.bool_]:
    """Corners inside the tub with an open face, without the zones of an unresolved hole.

    Corners inside a lid without thickness, with water on both sides, have no shear either.
    """
    r_open, z_open = mesh.area_r > 0.0, mesh.area_z > 0.0
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

    The open part of a face is on the side of the more open neighbour.
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
    """Distance between the two faces of a cell, or from its only open one to the wall."""
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
