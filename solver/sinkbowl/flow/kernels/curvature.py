"""Curvature of the surface: the sum of both principal curvatures, positive for a drop.

By height functions (Cummins, Francois & Kothe 2005, Comput. Struct. 83, 425; Francois et al. 2006,
J. Comput. Phys. 213, 141) in conservation form. Where the surface is z = H(r) with the slope psi,

    kappa = -+ (1/r) d(r sin psi)/dr,                   water below (-) or above (+),

and where it is r = R(z), q = R'/sqrt(1 + R'^2), S = R^2 being the sum of a column,

    kappa = +- (sqrt(1 - q^2)/R - dq/dz),               water inside (+) or outside (-).

The force of the surface on a column is then that of the slopes at its two faces, so a contact angle
acts as a force on the wall. On the axis r sin psi vanishes. Columns run along the direction in
which the surface crosses fewer cells; beside an aligned wall, along that wall. If neither direction
has three clean columns, a parabola is fitted through the middles of the surface's pieces in the 3 x
3 block, in the frame of the cell's normal; drops of fewer than three pieces have no tension. The
tub's side wall and the grid's ends count as 90 degrees.

A height is the sum of the fractions along a column, an exact mean of the surface's position over
the column's width. Columns run along the second axis of the arrays; for columns along r the arrays
are transposed and the marks are squared radii, so that sums are exact there too. Slopes are on the
faces between two columns. At a wall the slope is the contact angle's; if the surface is above the
wall's edge, the line is pinned there and the slope is that from the edge to the column's height
(Gibbs' condition). Slopes are sines of the angle to the abscissa.

The pressure equation couples a liquid cell to p = 0 at the surface towards each air neighbour
(`pressure.py`). With surface tension it is p = sigma kappa there (Gibou et al. 2002, J. Comput.
Phys. 176, 205), kappa linear between the two cells' centres. The part of dp/dx by sigma kappa is
applied to the velocity before the solve, the rest is unchanged: right side, correction and force on
the bowl agree to the bit, and a constant sigma kappa gives a constant pressure without motion.
"""

import numpy as np

from . import kernel, part
from .interface import TRACE, surface_normal
from .pressure import surface_distance


@part
def face_sine(fraction, across, beside, marks, centres, faces, a, b, up, side, height, wall, angle):
    """Sine of the surface's slope on one face of column a, along the abscissa, and its kind.

    beside (na+1, nb): open areas of the faces between columns; centres, faces: of the columns;
    wall: sine at a wall, rising towards it. For squared marks `angle` is 1, else 0.
    Kind: 1 neighbour column, 2 wall, 0 nothing found.
    """
    face = a + 1 if side > 0 else a
    other = a + side
    if other < 0 or other >= fraction.shape[0]:
        return 0.0, 1
    if beside[face, b] <= 0.0:
        slope = pinned_slope(beside, marks, face, b, up, height, abs(faces[face] - centres[a]))
        if angle > 0:
            slope /= 2.0 * np.sqrt(max(height, marks[1]))
        pinned = slope / np.sqrt(1.0 + slope * slope)
        return up * side * min(wall, pinned), 2
    beyond, found = column_height(fraction, across, marks, other, b, up)
    if not found:
        return 0.0, 0
    slope = (beyond - height) / (centres[other] - centres[a])
    if angle > 0:
        slope /= 2.0 * np.sqrt(max(0.5 * (beyond + height), 0.25 * marks[1]))
    return slope / np.sqrt(1.0 + slope * slope), 1


@part
def height_curvature(
    fraction, across, beside, marks, centres, faces, a, b, up, squared, normal_a, normal_b, angle
):
    """Curvature from three columns about cell b of column a, line force, and whether it is found.

    normal_a, normal_b: the wall's normal in a cut cell, zero elsewhere. The force is the vertical
    one on walls over the surface tension, per radian.
    """
    height, found = column_height(fraction, across, marks, a, b, up)
    if not found:
        return 0.0, 0.0, False
    here = marks[b] <= height < marks[b + 1]
    reach = marks[b + 1] - marks[b]
    if height < marks[b] - reach or height > marks[b + 1] + reach:
        return 0.0, 0.0, False
    radius = np.sqrt(max(height, 0.25 * marks[1])) if squared else 0.0
    sines, lift = (0.0, 0.0), 0.0
    for side in (-1, 1):
        into = side * normal_a
        wall = wall_sine(into, up * normal_b, angle) if into > 1e-6 else np.cos(angle)
        sine, kind = face_sine(
            fraction, across, beside, marks, centres, faces, a, b, up, side, height, wall, squared
        )
        if kind == 0:
            return 0.0, 0.0, False
        if kind == 2 and here and squared:
            lift -= side * radius * np.sqrt(1.0 - sine * sine)
        elif kind == 2 and here:
            lift -= side * sine * faces[a + 1 if side > 0 else a]
        sines = (sine, sines[1]) if side < 0 else (sines[0], sine)
    width = faces[a + 1] - faces[a]
    if squared:
        mean = 0.5 * (sines[0] + sines[1])
        curvature = up * (np.sqrt(1.0 - mean * mean) / radius - (sines[1] - sines[0]) / width)
    else:
        ring = faces[a + 1] * sines[1] - faces[a] * sines[0]
        curvature = -up * ring / (centres[a] * width)
    return curvature, lift, True


@part
def piece_middle(r0, r1, z0, z1, n_r, n_z, c):
    """Middle of the line n.x = c within a rectangle."""
    low, high = -1e30, 1e30
    if abs(n_z) > 1e-12:
        s, t = (c * n_r - r0) / n_z, (c * n_r - r1) / n_z
        low, high = max(low, min(s, t)), min(high, max(s, t))
    if abs(n_r) > 1e-12:
        s, t = (z0 - c * n_z) / n_r, (z1 - c * n_z) / n_r
        low, high = max(low, min(s, t)), min(high, max(s, t))
    middle = 0.5 * (low + high)
    return c * n_r - middle * n_z, c * n_z + middle * n_r


@part
def fitted_curvature(mesh, water, normal, offset, i, j, n_r, n_z):
    """Curvature of the parabola through the surface's pieces around a cell; 0 for fewer than 3."""
    s0 = s1 = s2 = s3 = s4 = 0.0
    y0 = y1 = y2 = 0.0
    for di in range(-1, 2):
        for dj in range(-1, 2):
            if not mesh.reach[i, j, 3 * (di + 1) + dj + 1]:
                continue
            a, b = i + di, j + dj
            share = water[a, b] / mesh.volume[a, b]
            if share <= TRACE or share >= 1.0 - TRACE:
                continue
            if normal[a, b, 0] * n_r + normal[a, b, 1] * n_z <= 0.0:
                continue
            r, z = piece_middle(
                mesh.r_f[a], mesh.r_f[a + 1], mesh.z_f[b], mesh.z_f[b + 1],
                normal[a, b, 0], normal[a, b, 1], offset[a, b],
            )  # fmt: skip
            t = ((z - mesh.z_c[j]) * n_r - (r - mesh.r_c[i]) * n_z) / mesh.dz[j]
            y = ((r - mesh.r_c[i]) * n_r + (z - mesh.z_c[j]) * n_z) / mesh.dz[j]
            s0 += 1.0
            s1 += t
            s2 += t * t
            s3 += t * t * t
            s4 += t * t * t * t
            y0 += y
            y1 += y * t
            y2 += y * t * t
    det = s0 * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s2 * s3) + s2 * (s1 * s3 - s2 * s2)
    if s0 < 3.0 or det < 1e-6:
        return 0.0
    slope = s0 * (y1 * s4 - s3 * y2) - y0 * (s1 * s4 - s3 * s2) + s2 * (s1 * y2 - y1 * s2)
    bend = s0 * (s2 * y2 - y1 * s3) - s1 * (s1 * y2 - y1 * s2) + y0 * (s1 * s3 - s2 * s2)
    slope /= det
    bend /= det * mesh.dz[j]
    size = np.sqrt(1.0 + slope * slope)
    around = (n_r + slope * n_z) / size / max(mesh.r_c[i], 0.5 * mesh.dr[i])
    return -2.0 * bend / (size * size * size) + around


@part
def at_surface(area_r, area_z, liquid, i, j):
    """Whether an open cell has a face-neighbour of the other phase."""
    nr, nz = liquid.shape
    here = liquid[i, j]
    return (
        (i > 0 and area_r[i, j] > 0.0 and liquid[i - 1, j] != here)
        or (i < nr - 1 and area_r[i + 1, j] > 0.0 and liquid[i + 1, j] != here)
        or (j > 0 and area_z[i, j] > 0.0 and liquid[i, j - 1] != here)
        or (j < nz - 1 and area_z[i, j + 1] > 0.0 and liquid[i, j + 1] != here)
    )


@kernel
def curvatures(mesh, water, extended, liquid, normal, offset, angle, squares, out):
    """Curvature of every cell at the surface (nr, nz) [1/m], 0 elsewhere.

    angle: contact angle in the water [rad]; squares: of r_f, the marks of columns along r. Returns
    the vertical force of the surface on walls inside the grid over the surface tension, per radian
    [m], and the number of fitted cells.
    water, extended, liquid, offset, out (nr, nz); normal (nr, nz, 2); squares (nr+1,).
    """
    nr, nz = extended.shape
    area_r, area_z = mesh.area_r, mesh.area_z
    lift, fitted = 0.0, 0
    for i in range(nr):
        for j in range(nz):
            out[i, j] = 0.0
            if mesh.volume[i, j] <= 0.0 or not at_surface(area_r, area_z, liquid, i, j):
                continue
            n_r, n_z = surface_normal(mesh, extended, i, j)
            beside_wall = (i > 0 and area_r[i, j] <= 0.0) or (
                i < nr - 1 and area_r[i + 1, j] <= 0.0
            )
            on_wall = area_z[i, j] <= 0.0 or area_z[i, j + 1] <= 0.0
            upright = abs(n_r) * mesh.dr[i] <= abs(n_z) * mesh.dz[j]
            if beside_wall != on_wall:
                upright = beside_wall
            found = False
            for attempt in range(2):
                if upright == (attempt == 0):
                    up = 1 if n_z > 0.0 else -1
                    kappa, force, found = height_curvature(
                        extended, area_z, area_r, mesh.z_f, mesh.r_c, mesh.r_f, i, j, up, False,
                        mesh.plane[i, j, 0], mesh.plane[i, j, 1], angle,
                    )  # fmt: skip
                else:
                    up = 1 if n_r > 0.0 else -1
                    kappa, force, found = height_curvature(
                        extended.T, area_r.T, area_z.T, squares, mesh.z_c, mesh.z_f, j, i, up, True,
                        mesh.plane[i, j, 1], mesh.plane[i, j, 0], angle,
                    )  # fmt: skip
                if found:
                    lift += force
                    break
            if not found:
                kappa = fitted_curvature(mesh, water, normal, offset, i, j, n_r, n_z)
                fitted += 1
            most = 2.0 / min(mesh.dr[i], mesh.dz[j])
            out[i, j] = min(max(kappa, -most), most)
    return lift, fitted


FULL = 1.0 - 1e-6
"""Share of a phase above which a column ends."""

NEARLY = 0.95
"""Share that ends a column which does not reach FULL: voids in water, drops in air."""

LONGEST = 6
"""Maximum number of cells on either side of the start of a column."""


@part
def walk(fraction, across, marks, a, b, step, to_water):
    """Follow column a from cell b into water or air, or to a wall.

    Returns the last cell, the water in the cells after b in units of `marks`, and whether an end
    was found.
    """
    last = fraction.shape[1] - 1
    k, total = b, 0.0
    share = fraction[a, b] if to_water else 1.0 - fraction[a, b]
    for _ in range(LONGEST):
        ahead = k + step
        if share >= FULL or ahead < 0 or ahead > last or across[a, max(k, ahead)] <= 0.0:
            return k, total, True
        following = fraction[a, ahead] if to_water else 1.0 - fraction[a, ahead]
        if following < share:
            return k, total, share >= NEARLY
        k, share = ahead, following
        total += fraction[a, k] * (marks[k + 1] - marks[k])
    return k, total, share >= NEARLY


@kernel
def column_height(fraction, across, marks, a, b, up):
    """Position of the surface in column a near cell b, and whether there is one.

    fraction (na, nb): share of water; across (na, nb+1): open areas of the faces that a column
    passes; marks (nb+1,): positions of these faces, or their squares; up: 1 if the water is on the
    side of low marks, else -1.
    """
    wet, below, found = walk(fraction, across, marks, a, b, -up, True)
    if not found:
        return 0.0, False
    _, above, found = walk(fraction, across, marks, a, b, up, False)
    total = below + above + fraction[a, b] * (marks[b + 1] - marks[b])
    return marks[wet if up > 0 else wet + 1] + up * total, found


@part
def wall_sine(into, upward, angle):
    """Sine of the surface's slope at a wall, rising towards it.

    into, upward: the wall's unit normal into the solid, along the abscissa and away from the water.
    """
    return np.cos(np.arctan2(upward, into) - angle)


@part
def pinned_slope(beside, marks, face, b, up, height, half_width):
    """Slope from a column's height to the edge of the wall beside it; large if there is none."""
    last = beside.shape[1] - 1
    k = b
    for _ in range(LONGEST):
        k += up
        if k < 0 or k > last:
            break
        if beside[face, k] > 0.0:
            return up * (marks[k if up > 0 else k + 1] - height) / half_width
    return 1e9


@part
def slope_of(curvature, extended, c, a, size_c, size_a):
    """kappa over the distance to the surface, from liquid cell c towards air cell a [1/m^2]."""
    distance = surface_distance(extended[c], size_c, extended[a], size_a)
    share = distance / (0.5 * (size_c + size_a))
    return ((1.0 - share) * curvature[c] + share * curvature[a]) / distance


@kernel
def push(area, size, extended, liquid, curvature, scale, di, dj, u):
    """u gains -scale dkappa/dx on faces between liquid and air; at the open top there is none.

    scale = dt sigma / rho. area, u (nr+1, nz) with di = 1, dj = 0 along r, (nr, nz+1) with 0 and 1
    along z; size (nr,) or (nz,): of the cells along that axis; extended, liquid, curvature (nr,
    nz).
    """
    nr, nz = extended.shape
    for i in range(di, nr):
        for j in range(dj, nz):
            a, b, k = (i - di, j - dj), (i, j), di * i + dj * j
            if area[i, j] <= 0.0 or liquid[a] == liquid[b]:
                continue
            if liquid[b]:
                u[i, j] += scale * slope_of(curvature, extended, b, a, size[k], size[k - 1])
            else:
                u[i, j] -= scale * slope_of(curvature, extended, a, b, size[k - 1], size[k])


@kernel
def least_surface_cell(mesh, liquid):
    """Smallest size of a cell at the surface [m]; a large number if there is none.

    liquid (nr, nz).
    """
    nr, nz = liquid.shape
    area_r, area_z = mesh.area_r, mesh.area_z
    least = 1e30
    for i in range(nr):
        for j in range(nz):
            if mesh.volume[i, j] > 0.0 and at_surface(area_r, area_z, liquid, i, j):
                least = min(least, min(mesh.dr[i], mesh.dz[j]))
    return least
