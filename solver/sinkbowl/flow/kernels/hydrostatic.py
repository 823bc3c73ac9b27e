"""Difference of the exact and the cell-centre hydrostatic force on the wall.

The force in the pressure equation is p_c h_c per cell, p_c at the cell's centre. The pressure of
still water on each piece of the wall is rho g (z_level - z); the difference depends only on the
water's position, and with it the discrete Archimedes draft is exact. It concerns only gravity: the
inertia of the water is already right, because the pressure equation and the force on the bowl are
transposes of each other.

The level of a cell below the surface is that of its pressure, z_c + p / (rho g). It cancels, except
for wall pieces in closed slivers, which are assigned to a neighbour.
"""

from . import kernel, part
from .interface import TRACE


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
        i = piece_cell[k, 0]
        j = piece_cell[k, 1]
        lent = i != row_cell[k, 0] or j != row_cell[k, 1]
        if extended[i, j] <= TRACE and lent:
            i = row_cell[k, 0]
            j = row_cell[k, 1]
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
    dr = rb - ra
    dz = zb - za
    return dr * ((level - za) * (ra + 0.5 * dr) - dz * (0.5 * ra + dr / 3.0))
