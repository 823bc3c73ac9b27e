"""Viscous stress on the staggered grid: du/dt = div(nu (grad u + grad u^T)), axisymmetric.

Stress form, because the surface is free of stress: the Laplacian form with a zero gradient there
dissipates only half of the energy of a wave, since 2 e:e = 2 grad u : grad u in irrotational flow
(Lamb, Hydrodynamics, art. 348). Normal stresses are at cell centres, shear at corners of cells:

    s_rr = 2 nu du_r/dr,  s_zz = 2 nu du_z/dz,  s_tt = 2 nu u_r/r,  s_rz = nu (du_r/dz + du_z/dr).

At the surface p equals the normal stress: on a face between water and air it acts over the distance
to the surface, like the pressure, which contains the stiff part. Corners that touch air have no
shear. At a wall the velocity falls to the bowl's from the middle of a face's open part. All
stresses are over the density [m^2/s^2].
"""

from . import kernel
from .pressure import surface_distance


@kernel
def cell_stress(mesh, liquid, width, height, viscosity, speed, u_r, u_z, s_rr, s_zz, s_tt):
    """Normal stresses of each liquid cell; zero elsewhere.

    width, height (nr, nz): distances between the positions of a cell's face values, including
    walls. u_r (nr+1, nz), u_z (nr, nz+1); liquid, s_rr, s_zz, s_tt (nr, nz).
    """
    nr, nz = liquid.shape
    for i in range(nr):
        for j in range(nz):
            s_rr[i, j] = s_zz[i, j] = s_tt[i, j] = 0.0
            if not liquid[i, j]:
                continue
            left = u_r[i, j] if mesh.area_r[i, j] > 0.0 else 0.0
            right = u_r[i + 1, j] if mesh.area_r[i + 1, j] > 0.0 else 0.0
            low = u_z[i, j] if mesh.area_z[i, j] > 0.0 else speed
            high = u_z[i, j + 1] if mesh.area_z[i, j + 1] > 0.0 else speed
            s_rr[i, j] = 2.0 * viscosity * (right - left) / width[i, j]
            s_zz[i, j] = 2.0 * viscosity * (high - low) / height[i, j]
            s_tt[i, j] = viscosity * (right + left) / mesh.r_c[i]


@kernel
def corner_stress(mesh, liquid, sheared, gap_r, gap_z, viscosity, speed, u_r, u_z, s_rz):
    """Shear stress at the corners (nr+1, nz+1) that are `sheared` and do not touch air.

    gap_r, gap_z: distance between the two u_z along r and the two u_r along z, or from the open one
    to the wall; infinite if both are closed. u_r (nr+1, nz), u_z (nr, nz+1); liquid (nr, nz);
    sheared, gap_r, gap_z, s_rz (nr+1, nz+1).
    """
    nr, nz = liquid.shape
    for i in range(1, nr):
        for j in range(1, nz):
            s_rz[i, j] = 0.0
            if not sheared[i, j]:
                continue
            airy = False
            for a in range(i - 1, i + 1):
                for b in range(j - 1, j + 1):
                    if mesh.volume[a, b] > 0.0 and not liquid[a, b]:
                        airy = True
            if airy:
                continue
            left = u_z[i - 1, j] if mesh.area_z[i - 1, j] > 0.0 else speed
            right = u_z[i, j] if mesh.area_z[i, j] > 0.0 else speed
            low = u_r[i, j - 1] if mesh.area_r[i, j - 1] > 0.0 else 0.0
            high = u_r[i, j] if mesh.area_r[i, j] > 0.0 else 0.0
            s_rz[i, j] = viscosity * ((right - left) / gap_r[i, j] + (high - low) / gap_z[i, j])


@kernel
def surface_stress(mesh, liquid, s_rr, s_zz, s_nn):
    """Normal stress of each liquid cell at its surface; zero without a surface.

    A cell with air both along r and along z gets the mean, the part in its pressure; the
    differences are stiff if the surface is near, see `push_r`. liquid, s_rr, s_zz, s_nn (nr, nz).
    """
    nr, nz = liquid.shape
    for i in range(nr):
        for j in range(nz):
            s_nn[i, j] = 0.0
            if not liquid[i, j]:
                continue
            along_r = (mesh.area_r[i, j] > 0.0 and not liquid[i - 1, j]) or (
                mesh.area_r[i + 1, j] > 0.0 and not liquid[i + 1, j]
            )
            along_z = (j > 0 and mesh.area_z[i, j] > 0.0 and not liquid[i, j - 1]) or (
                j < nz - 1 and mesh.area_z[i, j + 1] > 0.0 and not liquid[i, j + 1]
            )
            if along_r and along_z:
                s_nn[i, j] = 0.5 * (s_rr[i, j] + s_zz[i, j])
            elif along_r:
                s_nn[i, j] = s_rr[i, j]
            elif along_z:
                s_nn[i, j] = s_zz[i, j]


@kernel
def push_r(mesh, extended, liquid, size, most, viscosity, dt, s_rr, s_tt, s_nn, s_rz, u_r):
    """Add dt of viscous acceleration to u_r on open faces that touch liquid.

    size (nr+1, nz): volume of a face; most (nr+1, nz): longest stable dt there, an upper limit. At
    the surface the distance, for differences from the cell's s_nn, has a lower limit for stability.
    extended, liquid, s_rr, s_tt, s_nn (nr, nz); s_rz (nr+1, nz+1); u_r (nr+1, nz).
    """
    nr, nz = liquid.shape
    for i in range(1, nr):
        for j in range(nz):
            a, b = liquid[i - 1, j], liquid[i, j]
            if mesh.area_r[i, j] <= 0.0 or not (a or b):
                continue
            r = mesh.r_f[i]
            between = mesh.r_c[i] - mesh.r_c[i - 1]
            step = min(dt, most[i, j])
            if a and b:
                hoop = 0.5 * (s_tt[i - 1, j] * mesh.dr[i - 1] + s_tt[i, j] * mesh.dr[i])
                drive = s_rr[i, j] * mesh.r_c[i] - s_rr[i - 1, j] * mesh.r_c[i - 1] - hoop
                u_r[i, j] += step * drive / (r * between)
            else:
                k, other = (i - 1, i) if a else (i, i - 1)
                distance = surface_distance(
                    extended[k, j], mesh.dr[k], extended[other, j], mesh.dr[other]
                )
                blunt = max(distance, 4.0 * viscosity * dt / mesh.dr[k])
                pull = s_nn[k, j] / distance + (s_rr[k, j] - s_nn[k, j]) / blunt
                u_r[i, j] += dt * pull if b else -dt * pull
                u_r[i, j] += step * (s_rr[k, j] - s_tt[k, j]) / r
            u_r[i, j] += step * (s_rz[i, j + 1] - s_rz[i, j]) * r * between / size[i, j]


@kernel
def push_z(mesh, extended, liquid, size, most, viscosity, dt, s_zz, s_nn, s_rz, u_z):
    """Add dt of viscous acceleration to u_z on open faces that touch liquid, as `push_r` does.

    Returns the walls' upward shear on the water over the density [m^4/s^2 per radian].
    extended, liquid, s_zz, s_nn (nr, nz); s_rz (nr+1, nz+1); size, most, u_z (nr, nz+1).
    """
    nr, nz = liquid.shape
    shear = 0.0
    for i in range(nr):
        for j in range(1, nz):
            a, b = liquid[i, j - 1], liquid[i, j]
            if mesh.area_z[i, j] <= 0.0 or not (a or b):
                continue
            between = mesh.z_c[j] - mesh.z_c[j - 1]
            step = min(dt, most[i, j])
            if a and b:
                u_z[i, j] += step * (s_zz[i, j] - s_zz[i, j - 1]) / between
            else:
                k, other = (j - 1, j) if a else (j, j - 1)
                distance = surface_distance(
                    extended[i, k], mesh.dz[k], extended[i, other], mesh.dz[other]
                )
                blunt = max(distance, 4.0 * viscosity * dt / mesh.dz[k])
                pull = s_nn[i, k] / distance + (s_zz[i, k] - s_nn[i, k]) / blunt
                u_z[i, j] += dt * pull if b else -dt * pull
            outer = s_rz[i + 1, j] * mesh.r_f[i + 1] * between
            inner = s_rz[i, j] * mesh.r_f[i] * between
            u_z[i, j] += step * (outer - inner) / size[i, j]
            if i + 1 < nr and mesh.area_z[i + 1, j] <= 0.0:
                shear += outer
            if i > 0 and mesh.area_z[i - 1, j] <= 0.0:
                shear -= inner
    return shear


@kernel
def normal_lift(mesh, liquid, s_zz):
    """Sum of the vertical normal stress times the heave area of each liquid cell.

    liquid, s_zz (nr, nz).
    """
    total = 0.0
    for i in range(liquid.shape[0]):
        for j in range(liquid.shape[1]):
            if liquid[i, j]:
                total += s_zz[i, j] * mesh.heave_area[i, j]
    return total
