"""The pressure equation: cut-cell finite volumes with the ghost-fluid free surface.

The unknown is p in cells whose extended fraction is at least one half ("liquid"). With open face
areas A (Batty, Bertails & Bridson 2007; Ng, Min & Gibou 2009, J. Comput. Phys. 228, 8807) the
balance of a cell reads

    sum over liquid neighbours of (dt/rho) A (p - p_n) / d
  + sum over air neighbours of    (dt/rho) A p / (theta d)  =  -(D u* + h V*) + wanted

theta d being the distance from the cell's centre to the surface, where p = 0 (Gibou et al. 2002, J.
Comput. Phys. 176, 205), or that of closed-off air (`pockets.py`). Between two cells theta d = (F_c
- 1/2) d_c + F_a d_a, exact for a flat level. h is the heave area of the cell and V the bowl's
velocity.
"""

from . import kernel, part
from .interface import phases_around

LEAST_THETA = 1e-4
"""Minimum distance from a centre to the surface, over that to the next centre: a surface through a
centre would give an infinite coupling."""


@kernel
def mark_liquid(mesh, extended, liquid):
    """Cells that the pressure equation covers; returns one more than the highest one's row.

    extended, liquid (nr, nz).
    """
    nr, nz = extended.shape
    top = 1
    for i in range(nr):
        for j in range(nz):
            liquid[i, j] = mesh.volume[i, j] > 0.0 and extended[i, j] >= 0.5
            if liquid[i, j]:
                top = max(top, j + 1)
    return top


@part
def surface_distance(f_cell, size_cell, f_air, size_air):
    """Distance from a liquid cell's centre to the surface towards an air neighbour [m]."""
    between = 0.5 * (size_cell + size_air)
    distance = (f_cell - 0.5) * size_cell + f_air * size_air
    return min(max(distance, LEAST_THETA * between), between)


@kernel
def assemble(mesh, extended, liquid, scale, right, above, fixed):
    """Coefficients of the pressure matrix: coupling to the right, upwards, and to p = 0.

    right, above, fixed (nr, nz); zero without a coupling; scale = dt / rho. extended, liquid (nr,
    nz).
    """
    nr, nz = extended.shape
    for i in range(nr):
        for j in range(nz):
            right[i, j] = 0.0
            above[i, j] = 0.0
            fixed[i, j] = 0.0
    for i in range(nr):
        for j in range(nz):
            if mesh.volume[i, j] <= 0.0:
                continue
            here = liquid[i, j]
            area = mesh.area_r[i + 1, j]
            if area > 0.0 and (here or liquid[i + 1, j]):
                if here and liquid[i + 1, j]:
                    right[i, j] = scale * area / (mesh.r_c[i + 1] - mesh.r_c[i])
                elif here:
                    fixed[i, j] += (
                        scale
                        * area
                        / surface_distance(
                            extended[i, j], mesh.dr[i], extended[i + 1, j], mesh.dr[i + 1]
                        )
                    )
                else:
                    fixed[i + 1, j] += (
                        scale
                        * area
                        / surface_distance(
                            extended[i + 1, j], mesh.dr[i + 1], extended[i, j], mesh.dr[i]
                        )
                    )
            area = mesh.area_z[i, j + 1]
            if area <= 0.0:
                continue
            if j == nz - 1:
                if here:
                    fixed[i, j] += (
                        scale * area / surface_distance(extended[i, j], mesh.dz[j], 0.0, mesh.dz[j])
                    )
            elif here and liquid[i, j + 1]:
                above[i, j] = scale * area / (mesh.z_c[j + 1] - mesh.z_c[j])
            elif here:
                fixed[i, j] += (
                    scale
                    * area
                    / surface_distance(
                        extended[i, j], mesh.dz[j], extended[i, j + 1], mesh.dz[j + 1]
                    )
                )
            elif liquid[i, j + 1]:
                fixed[i, j + 1] += (
                    scale
                    * area
                    / surface_distance(
                        extended[i, j + 1], mesh.dz[j + 1], extended[i, j], mesh.dz[j]
                    )
                )


@kernel
def add_gravity(area_z, change, u_z):
    """Add the change of speed by gravity to every open face above the bottom plane.

    area_z, u_z (nr, nz+1).
    """
    nr, faces = area_z.shape
    for i in range(nr):
        area = area_z[i]
        u = u_z[i]
        for j in range(1, faces):
            u[j] += change if area[j] > 0.0 else 0.0


@kernel
def divergence(mesh, u_r, u_z, speed, liquid, out):
    """Net outflow D u + h V of each liquid cell [m^3/s per radian]; zero elsewhere.

    u_r (nr+1, nz), u_z (nr, nz+1); liquid, out (nr, nz).
    """
    nr, nz = out.shape
    for i in range(nr):
        for j in range(nz):
            outflow = (
                mesh.area_r[i + 1, j] * u_r[i + 1, j]
                - mesh.area_r[i, j] * u_r[i, j]
                + mesh.area_z[i, j + 1] * u_z[i, j + 1]
                - mesh.area_z[i, j] * u_z[i, j]
                + mesh.heave_area[i, j] * speed
            )
            out[i, j] = outflow if liquid[i, j] else 0.0


@part
def is_deep(area_r, area_z, liquid, i, j, below, above):
    """Whether a cell and its open neighbours are liquid; below, above: its neighbours' indices."""
    before = max(i - 1, 0)
    after = min(i + 1, liquid.shape[0] - 1)
    return (
        liquid[i, j]
        & ((area_r[i, j] <= 0.0) | liquid[before, j])
        & ((area_r[i + 1, j] <= 0.0) | liquid[after, j])
        & ((area_z[i, j] <= 0.0) | liquid[i, below])
        & ((area_z[i, j + 1] <= 0.0) | liquid[i, above])
    )


@kernel
def divergence_wanted(mesh, water, extended, liquid, cut, rate, void_rate, out):
    """Outflow that restores the volume of water in cells deep inside [m^3/s per radian].

    A surplus is driven out at `rate`, a void (a bubble smaller than a cell) closed at `void_rate`
    [1/s]; cells beside air are unchanged. cut (k, 2): the cut cells, which also have air across a
    corner. water, extended, liquid, out (nr, nz).
    """
    nr, nz = water.shape
    top = nz - 1
    for i in range(nr):
        for j in range(nz):
            surplus = water[i, j] - mesh.volume[i, j]
            out[i, j] = surplus * (rate if surplus > 0.0 else void_rate)
        if not is_deep(mesh.area_r, mesh.area_z, liquid, i, 0, 0, min(1, top)):
            out[i, 0] = 0.0
        for j in range(1, top):
            deep = is_deep(mesh.area_r, mesh.area_z, liquid, i, j, j - 1, j + 1)
            out[i, j] = out[i, j] if deep else 0.0
        closed = mesh.area_z[i, nz] <= 0.0
        if not (closed and is_deep(mesh.area_r, mesh.area_z, liquid, i, top, top - 1, top)):
            out[i, top] = 0.0
    for k in range(cut.shape[0]):
        i = cut[k, 0]
        j = cut[k, 1]
        if out[i, j] < 0.0:
            _, air = phases_around(mesh, extended, i, j)
            out[i, j] = 0.0 if air else out[i, j]


@kernel
def prepare(mesh, liquid, wanted, source, heave, pressure):
    """Right side and heave areas of the liquid cells; elsewhere 0, also the pressure.

    source has the divergence, and becomes wanted minus divergence. liquid, wanted, source, heave,
    pressure (nr, nz).
    """
    nr, nz = liquid.shape
    for i in range(nr):
        for j in range(nz):
            source[i, j] = wanted[i, j] - source[i, j]
        for j in range(nz):
            heave[i, j] = mesh.heave_area[i, j] if liquid[i, j] else 0.0
        for j in range(nz):
            pressure[i, j] = pressure[i, j] if liquid[i, j] else 0.0


@kernel
def correct_r(mesh, extended, liquid, pressure, scale, u_r):
    """u_r -= scale dp/dr on every open face that touches a liquid cell.

    pressure in air cells is that of the air: 0, or a pocket's.
    extended, liquid, pressure (nr, nz); u_r (nr+1, nz).
    """
    nr, nz = extended.shape
    for i in range(1, nr):
        for j in range(nz):
            if mesh.area_r[i, j] <= 0.0:
                continue
            a = liquid[i - 1, j]
            b = liquid[i, j]
            if a and b:
                distance = mesh.r_c[i] - mesh.r_c[i - 1]
                u_r[i, j] -= scale * (pressure[i, j] - pressure[i - 1, j]) / distance
            elif a:
                u_r[i, j] += (
                    scale
                    * (pressure[i - 1, j] - pressure[i, j])
                    / surface_distance(
                        extended[i - 1, j], mesh.dr[i - 1], extended[i, j], mesh.dr[i]
                    )
                )
            elif b:
                u_r[i, j] -= (
                    scale
                    * (pressure[i, j] - pressure[i - 1, j])
                    / surface_distance(
                        extended[i, j], mesh.dr[i], extended[i - 1, j], mesh.dr[i - 1]
                    )
                )


@kernel
def correct_z(mesh, extended, liquid, pressure, scale, u_z):
    """u_z -= scale dp/dz on open faces that touch a liquid cell; the bottom plane keeps 0.

    As `correct_r`; extended, liquid, pressure (nr, nz); u_z (nr, nz+1).
    """
    nr, nz = extended.shape
    for i in range(nr):
        for j in range(1, nz + 1):
            if mesh.area_z[i, j] <= 0.0:
                continue
            a = liquid[i, j - 1]
            b = j < nz and liquid[i, j]
            if a and b:
                distance = mesh.z_c[j] - mesh.z_c[j - 1]
                u_z[i, j] -= scale * (pressure[i, j] - pressure[i, j - 1]) / distance
            elif a:
                f_air = extended[i, j] if j < nz else 0.0
                size = mesh.dz[j] if j < nz else mesh.dz[j - 1]
                p_air = pressure[i, j] if j < nz else 0.0
                u_z[i, j] += (
                    scale
                    * (pressure[i, j - 1] - p_air)
                    / surface_distance(extended[i, j - 1], mesh.dz[j - 1], f_air, size)
                )
            elif b:
                u_z[i, j] -= (
                    scale
                    * (pressure[i, j] - pressure[i, j - 1])
                    / surface_distance(
                        extended[i, j], mesh.dz[j], extended[i, j - 1], mesh.dz[j - 1]
                    )
                )
