"""Laplace pressure on the ghost-fluid surface.

The pressure equation couples a liquid cell to p = 0 at the surface towards each air neighbour
(`pressure.py`). With surface tension it is p = sigma kappa there (Gibou et al. 2002, J. Comput.
Phys. 176, 205), kappa linear between the two cells' centres. The part of dp/dx by sigma kappa is
applied to the velocity before the solve, the rest is unchanged: right side, correction and force on
the bowl agree to the bit, and a constant sigma kappa gives a constant pressure without motion.
"""

from . import kernel, part
from .curvature import at_surface
from .pressure import surface_distance


@part
def push(curvature, extended, c, a, size_c, size_a):
    """kappa over the distance to the surface, from liquid cell c towards air cell a [1/m^2]."""
    distance = surface_distance(extended[c], size_c, extended[a], size_a)
    share = distance / (0.5 * (size_c + size_a))
    return ((1.0 - share) * curvature[c] + share * curvature[a]) / distance


@kernel
def push_r(mesh, extended, liquid, curvature, scale, u_r):
    """u_r gains -scale dkappa/dr on faces between liquid and air; scale = dt sigma / rho.

    extended, liquid, curvature (nr, nz); u_r (nr+1, nz).
    """
    nr, nz = extended.shape
    for i in range(1, nr):
        for j in range(nz):
            if mesh.area_r[i, j] <= 0.0 or liquid[i - 1, j] == liquid[i, j]:
                continue
            a = (i - 1, j)
            b = (i, j)
            if liquid[i, j]:
                u_r[i, j] += scale * push(curvature, extended, b, a, mesh.dr[i], mesh.dr[i - 1])
            else:
                u_r[i, j] -= scale * push(curvature, extended, a, b, mesh.dr[i - 1], mesh.dr[i])


@kernel
def push_z(mesh, extended, liquid, curvature, scale, u_z):
    """u_z gains -scale dkappa/dz on faces between liquid and air; at the open top there is none.

    extended, liquid, curvature (nr, nz); u_z (nr, nz+1).
    """
    nr, nz = extended.shape
    for i in range(nr):
        for j in range(1, nz):
            if mesh.area_z[i, j] <= 0.0 or liquid[i, j - 1] == liquid[i, j]:
                continue
            a = (i, j - 1)
            b = (i, j)
            if liquid[i, j]:
                u_z[i, j] += scale * push(curvature, extended, b, a, mesh.dz[j], mesh.dz[j - 1])
            else:
                u_z[i, j] -= scale * push(curvature, extended, a, b, mesh.dz[j - 1], mesh.dz[j])


@kernel
def least_surface_cell(mesh, liquid):
    """Smallest size of a cell at the surface [m]; a large number if there is none.

    liquid (nr, nz).
    """
    nr, nz = liquid.shape
    area_r = mesh.area_r
    area_z = mesh.area_z
    least = 1e30
    for i in range(nr):
        for j in range(nz):
            if mesh.volume[i, j] > 0.0 and at_surface(area_r, area_z, liquid, i, j):
                least = min(least, min(mesh.dr[i], mesh.dz[j]))
    return least
