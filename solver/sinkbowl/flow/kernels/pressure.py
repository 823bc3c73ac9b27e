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

The force on the wall in this equation is p_c h_c per cell, p_c at the cell's centre. The pressure
of still water on each piece of the wall is rho g (z_level - z); the difference depends only on the
water's position, and with it (`hydrostatic_defect`) the discrete Archimedes draft is exact. It
concerns only gravity: the inertia of the water is already right, because the pressure equation and
the force on the bowl are transposes of each other. The level of a cell below the surface is that of
its pressure, z_c + p / (rho g). It cancels, except for wall pieces in closed slivers, which are
assigned to a neighbour.
"""

from . import kernel, part
from .interface import TRACE, phases_around

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


@part
def connect(extended, liquid, strength, a, b, size_a, size_b, between, along, fixed):
    """Couple two cells with an open face: to each other, or the liquid one to the other's air."""
    if liquid[a] and liquid[b]:
        along[a] = strength / between
    elif liquid[a]:
        fixed[a] += strength / surface_distance(extended[a], size_a, extended[b], size_b)
    elif liquid[b]:
        fixed[b] += strength / surface_distance(extended[b], size_b, extended[a], size_a)


@kernel
def assemble(mesh, extended, liquid, scale, right, above, fixed):
    """Coefficients of the pressure matrix: coupling to the right, upwards, and to p = 0.

    right, above, fixed (nr, nz); zero without a coupling; scale = dt / rho. extended, liquid (nr,
    nz).
    """
    nr, nz = extended.shape
    dr, dz = mesh.dr, mesh.dz
    for i in range(nr):
        for j in range(nz):
            right[i, j] = above[i, j] = fixed[i, j] = 0.0
    for i in range(nr):
        for j in range(nz):
            if mesh.volume[i, j] <= 0.0:
                continue
            here = (i, j)
            strength = scale * mesh.area_r[i + 1, j]
            if strength > 0.0:
                apart = mesh.r_c[i + 1] - mesh.r_c[i]
                beside = (i + 1, j)
                connect(
                    extended, liquid, strength, here, beside, dr[i], dr[i + 1], apart, right, fixed
                )
            strength = scale * mesh.area_z[i, j + 1]
            if strength > 0.0 and j < nz - 1:
                apart = mesh.z_c[j + 1] - mesh.z_c[j]
                over = (i, j + 1)
                connect(
                    extended, liquid, strength, here, over, dz[j], dz[j + 1], apart, above, fixed
                )
            elif strength > 0.0 and liquid[here]:
                fixed[here] += strength / surface_distance(extended[here], dz[j], 0.0, dz[j])


@kernel
def add_gravity(area_z, change, u_z):
    """Add the change of speed by gravity to every open face above the bottom plane.

    area_z, u_z (nr, nz+1).
    """
    nr, faces = area_z.shape
    for i in range(nr):
        area, u = area_z[i], u_z[i]
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
    before, after = max(i - 1, 0), min(i + 1, liquid.shape[0] - 1)
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
        i, j = cut[k, 0], cut[k, 1]
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


@part
def distance_between(extended, liquid, a, b, size_a, size_b, between):
    """Distance over which the pressures of two cells differ, of which at least one is liquid."""
    if liquid[a] and liquid[b]:
        return between
    if liquid[a]:
        return surface_distance(extended[a], size_a, extended[b], size_b)
    return surface_distance(extended[b], size_b, extended[a], size_a)


@kernel
def correct(area, size, centre, extended, liquid, pressure, scale, di, dj, u):
    """u -= scale dp/dx on every open face of one axis that touches a liquid cell.

    The bottom plane keeps 0. Pressure in air cells is that of the air: 0, or a pocket's. area, u
    (nr+1, nz) with di = 1, dj = 0 along r, (nr, nz+1) with 0 and 1 along z; size, centre (nr,) or
    (nz,): of the cells along the axis; extended, liquid, pressure (nr, nz).
    """
    nr, nz = extended.shape
    for i in range(di, nr):
        for j in range(dj, nz):
            a, b, k = (i - di, j - dj), (i, j), di * i + dj * j
            if area[i, j] <= 0.0 or not (liquid[a] or liquid[b]):
                continue
            between = centre[k] - centre[k - 1]
            distance = distance_between(extended, liquid, a, b, size[k - 1], size[k], between)
            u[i, j] -= scale * (pressure[b] - pressure[a]) / distance
    for i in range(nr if dj else 0):
        last = nz - 1
        if area[i, nz] > 0.0 and liquid[i, last]:
            distance = surface_distance(extended[i, last], size[last], 0.0, size[last])
            u[i, nz] += scale * pressure[i, last] / distance


@kernel
def hydrostatic_defect(mesh, extended, liquid, pressure, weight, pieces, piece_cell, row_cell):
    """Sum of exact minus cell-centre hydrostatic lift, in units of rho g [m^3 per radian].

    weight = rho g [N/m^3]. pieces (k, 4) are wall pieces in counter-clockwise order, so that a
    pressure p lifts the bowl by p r dr per radian along each; piece_cell (k, 2) is the cell that a
    piece belongs to, row_cell (k, 2) the nearest open cell in its own row.
    extended, liquid, pressure (nr, nz).
    """
    lift = 0.0
    for k in range(pieces.shape[0]):
        i, j = piece_cell[k, 0], piece_cell[k, 1]
        lent = i != row_cell[k, 0] or j != row_cell[k, 1]
        if extended[i, j] <= TRACE and lent:
            i, j = row_cell[k, 0], row_cell[k, 1]
        if extended[i, j] <= TRACE:
            continue
        deep = extended[i, j] >= 1.0 - TRACE
        level = mesh.z_f[j] + extended[i, j] * mesh.dz[j]
        if deep:
            level = mesh.z_c[j] + pressure[i, j] / weight
        lift += lift_of_piece(
            pieces[k, 0], pieces[k, 1], pieces[k, 2], pieces[k, 3], level, deep and not lent
        )
    nr, nz = extended.shape
    for i in range(nr):
        for j in range(nz):
            if liquid[i, j] and mesh.heave_area[i, j] != 0.0:
                level = mesh.z_f[j] + extended[i, j] * mesh.dz[j]
                if extended[i, j] >= 1.0 - TRACE:
                    level = mesh.z_c[j] + pressure[i, j] / weight
                lift -= (level - mesh.z_c[j]) * mesh.heave_area[i, j]
    return lift


@part
def lift_of_piece(ra, za, rb, zb, level, whole):
    """Integral of (level - z) r dr over a piece, or over its part below the level."""
    if not whole:
        if za >= level and zb >= level:
            return 0.0
        if za > level:
            s = (za - level) / (za - zb)
            ra += s * (rb - ra)
            za = level
        elif zb > level:
            s = (level - za) / (zb - za)
            rb = ra + s * (rb - ra)
            zb = level
    dr, dz = rb - ra, zb - za
    return dr * ((level - za) * (ra + 0.5 * dr) - dz * (0.5 * ra + dr / 3.0))
