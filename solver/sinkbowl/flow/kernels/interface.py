"""Position of the surface inside the mixed cells.

In each mixed cell the surface is a line n.x = c, water on the side n.x <= c, with n from the
gradient of the volume fraction over a 3 x 3 block (Youngs 1982, in Numerical Methods for Fluid
Dynamics, ed. Morton & Baines, p. 273) and c such that the water volume in the cell's open polygon
is exact.

The *extended volume fraction*, `extended`, is the share of the whole cell, solid included, under
that line, as if the water continued into the wall at 90 degrees. A flat level has the same value in
a whole row, cut cells included, which keeps still water still beside a curved wall.
"""

import numpy as np

from . import kernel, part
from .polygon import clip, moment, moment_below, place_plane, rectangle

TRACE = 1e-7
"""Fractions this close to 0 or 1 count as empty or full: otherwise the surface would be within
round-off of the cell's edge, with a random normal."""

TRANSITION = 0.05
"""Fractions closer than this to 0 or 1 in a cut cell do not determine the surface."""


@kernel
def open_polygon(r_f, z_f, plane, i, j, rect, out):
    """Polygon of the open part of a cell; returns its number of vertices.

    r_f (nr+1,), z_f (nz+1,); plane (nr, nz, 3), see `Solid`; rect, out (16, 2).
    """
    n_r, n_z = plane[i, j, 0], plane[i, j, 1]
    if n_r == 0.0 and n_z == 0.0:
        return rectangle(r_f[i], r_f[i + 1], z_f[j], z_f[j + 1], out)
    rectangle(r_f[i], r_f[i + 1], z_f[j], z_f[j + 1], rect)
    return clip(rect, 4, n_r, n_z, plane[i, j, 2], out)


@part
def block_value(mesh, extended, i, j, di, dj):
    """Extended fraction of a neighbour, or, behind a wall, the value that continues the water.

    That is the row's level if any of the row is reachable, else the value on this side.
    """
    if mesh.reach[i, j, 3 * (di + 1) + dj + 1]:
        return extended[i + di, j + dj]
    total, count = 0.0, 0
    for d in range(-1, 2):
        if mesh.reach[i, j, 3 * (d + 1) + dj + 1]:
            total += extended[i + d, j + dj]
            count += 1
    if count > 0:
        return total / count
    if mesh.reach[i, j, 3 * (di + 1) + 1]:
        return extended[i + di, j]
    return extended[i, j]


@part
def surface_normal(mesh, extended, i, j):
    """Unit normal out of the water (Youngs' weights 1, 2, 1); upward without a gradient."""
    right = left = above = below = 0.0
    for d in range(-1, 2):
        weight = 2.0 if d == 0 else 1.0
        right += weight * block_value(mesh, extended, i, j, 1, d)
        left += weight * block_value(mesh, extended, i, j, -1, d)
        above += weight * block_value(mesh, extended, i, j, d, 1)
        below += weight * block_value(mesh, extended, i, j, d, -1)
    r_out = mesh.r_c[min(i + 1, mesh.dr.shape[0] - 1)] - mesh.r_c[max(i - 1, 0)]
    z_out = mesh.z_c[min(j + 1, mesh.dz.shape[0] - 1)] - mesh.z_c[max(j - 1, 0)]
    n_r, n_z = (left - right) / r_out, (below - above) / z_out
    size = np.hypot(n_r, n_z)
    if size * mesh.dz[j] < 1e-12:
        return 0.0, 1.0
    return n_r / size, n_z / size


@part
def phases_around(mesh, extended, i, j):
    """Whether there are liquid and air cells among the reachable ones of the block."""
    liquid = air = False
    for di in range(-1, 2):
        for dj in range(-1, 2):
            if (di != 0 or dj != 0) and mesh.reach[i, j, 3 * (di + 1) + dj + 1]:
                if extended[i + di, j + dj] >= 0.5:
                    liquid = True
                else:
                    air = True
    return liquid, air


@part
def copy_uncut(mesh, water, extended):
    """Extended volume fraction of uncut cells: the fraction itself, kept within 0..1."""
    nr, nz = water.shape
    for i in range(nr):
        for j in range(nz):
            if mesh.volume[i, j] > 0.0 and not mesh.cut[i, j]:
                extended[i, j] = min(max(water[i, j] / mesh.volume[i, j], 0.0), 1.0)


@part
def row_mean(mesh, extended, i, j, default):
    """Mean extended fraction of the row's reachable neighbours; `default` if there are none."""
    total, count = 0.0, 0
    for di in (-1, 1):
        if mesh.reach[i, j, 3 * (di + 1) + 1]:
            total += extended[i + di, j]
            count += 1
    return total / count if count > 0 else default


@part
def settle_cut(mesh, water, cut, extended, crossed):
    """Extended fraction of cut cells without a surface; marks those with one.

    A surface crosses a mixed cut cell if there is both liquid and air around it; deep in the water
    a missing share is a void, not a surface. Without a surface the level may still pass through the
    solid part: the level of the row's neighbours is taken, limited to what an empty (full) open
    part allows.
    """
    for k in range(cut.shape[0]):
        i, j = cut[k, 0], cut[k, 1]
        fraction = water[i, j] / mesh.volume[i, j]
        liquid, air = phases_around(mesh, extended, i, j)
        crossed[k] = TRACE < fraction < 1.0 - TRACE and liquid and air
        if crossed[k]:
            continue
        if fraction >= 1.0 - TRACE or (fraction > TRACE and not air):
            extended[i, j] = max(row_mean(mesh, extended, i, j, 1.0), mesh.full_limit[i, j])
        else:
            extended[i, j] = min(row_mean(mesh, extended, i, j, 0.0), mesh.empty_limit[i, j])


@part
def continue_into_walls(mesh, water, cut, crossed, normal, offset, extended, work):
    """Extended fraction of the cut cells that a surface crosses: the whole cell's share below it.

    Near a full or empty open part it is blended into the row's level, as in `settle_cut`, so that a
    trace of water cannot switch a cell between liquid and air.
    """
    for k in range(cut.shape[0]):
        if not crossed[k]:
            continue
        i, j = cut[k, 0], cut[k, 1]
        n = rectangle(mesh.r_f[i], mesh.r_f[i + 1], mesh.z_f[j], mesh.z_f[j + 1], work[0])
        n = clip(work[0], n, normal[i, j, 0], normal[i, j, 1], offset[i, j], work[2])
        share = moment(work[2], n) / mesh.whole[i, j]
        beside = row_mean(mesh, extended, i, j, share)
        fraction = water[i, j] / mesh.volume[i, j]
        share += max(1.0 - (1.0 - fraction) / TRANSITION, 0.0) * max(beside - share, 0.0)
        share -= max(1.0 - fraction / TRANSITION, 0.0) * max(share - beside, 0.0)
        extended[i, j] = share


@part
def place_surface(mesh, water, extended, normal, offset, work):
    """Line n.x = c of every mixed cell.

    normal (nr, nz, 2), offset (nr, nz); work (4, 16, 2) is scratch space.
    """
    nr, nz = water.shape
    for i in range(nr):
        for j in range(nz):
            volume = mesh.volume[i, j]
            if volume <= 0.0:
                continue
            fraction = water[i, j] / volume
            if fraction <= TRACE or fraction >= 1.0 - TRACE:
                continue
            n_r, n_z = surface_normal(mesh, extended, i, j)
            n = open_polygon(mesh.r_f, mesh.z_f, mesh.plane, i, j, work[0], work[1])
            c = place_plane(work[1], n, n_r, n_z, fraction * moment(work[1], n))
            normal[i, j, 0], normal[i, j, 1] = n_r, n_z
            offset[i, j] = c


@part
def wet_share(mesh, normal, offset, i, j, r0, r1, z0, z1, work):
    """Water's share of the open part of a mixed cell between r0..r1 and z0..z1."""
    swept = work[0]
    n = rectangle(r0, r1, z0, z1, swept)
    if mesh.cut[i, j]:
        n_r = mesh.plane[i, j, 0]
        n = clip(swept, n, n_r, mesh.plane[i, j, 1], mesh.plane[i, j, 2], work[1])
        swept = work[1]
    whole = moment(swept, n)
    if whole <= 0.0:
        return -1.0
    wet, _ = moment_below(swept, n, normal[i, j, 0], normal[i, j, 1], offset[i, j])
    return min(max(wet / whole, 0.0), 1.0)


@kernel
def reconstruct(mesh, water, cut, crossed, extended, normal, offset, work):
    """Extended volume fraction of all cells and the surface's line in the mixed ones.

    cut (k, 2) lists the cut cells, crossed (k,) becomes whether the surface runs through each.
    water, extended, offset (nr, nz); normal (nr, nz, 2); work (4, 16, 2) is scratch space.
    """
    copy_uncut(mesh, water, extended)
    settle_cut(mesh, water, cut, extended, crossed)
    place_surface(mesh, water, extended, normal, offset, work)
    continue_into_walls(mesh, water, cut, crossed, normal, offset, extended, work)
