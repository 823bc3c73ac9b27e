"""Extension of the velocity into the air beside the water and into walls.

Air: each layer of unknown faces gets the mean of its known neighbours of the same component, a few
layers deep, for the transport of the surface and the upwind data of the next step. Walls: a closed
face gets the velocity of its open neighbours with the normal component of the wall (free slip). On
a horizontal wall this is the bowl's velocity; these values make the jet contract at the hole's
edge.
"""

import numpy as np

from . import kernel, part

UNKNOWN = 100
"""Open face without liquid, beyond the layers; drops may pass it."""

DRY = 101
"""UNKNOWN face with no drop beside it: the air is at rest."""


@kernel
def mark_wet_faces(mesh, liquid, known_r, known_z):
    """Level 0: open faces that touch a liquid cell; UNKNOWN: all other open faces; -1: closed.

    liquid (nr, nz); known_r (nr+1, nz), known_z (nr, nz+1).
    """
    nr, nz = liquid.shape
    for i in range(nr + 1):
        before, after = liquid[max(i - 1, 0)], liquid[min(i, nr - 1)]
        area, known = mesh.area_r[i], known_r[i]
        for j in range(nz):
            level = 0 if before[j] | after[j] else UNKNOWN
            known[j] = level if area[j] > 0.0 else -1
    for i in range(nr):
        wet, area, known = liquid[i], mesh.area_z[i], known_z[i]
        known[0] = 0 if area[0] > 0.0 else -1
        known[nz] = (0 if wet[nz - 1] else UNKNOWN) if area[nz] > 0.0 else -1
        for j in range(1, nz):
            level = 0 if wet[j - 1] | wet[j] else UNKNOWN
            known[j] = level if area[j] > 0.0 else -1


@part
def mean_of_layers(u, known, i, j, layer):
    """Mean of the neighbours on earlier layers, and how many there are."""
    n, m = u.shape
    total, count = 0.0, 0
    if i > 0 and 0 <= known[i - 1, j] < layer:
        total += u[i - 1, j]
        count += 1
    if i < n - 1 and 0 <= known[i + 1, j] < layer:
        total += u[i + 1, j]
        count += 1
    if j > 0 and 0 <= known[i, j - 1] < layer:
        total += u[i, j - 1]
        count += 1
    if j < m - 1 and 0 <= known[i, j + 1] < layer:
        total += u[i, j + 1]
        count += 1
    return (total / count if count > 0 else 0.0), count


@part
def first_layer(u, known, top, front):
    """Layer 1, from the columns below `top`; lists its faces and returns their number."""
    n, m = u.shape
    size = 0
    for i in range(n):
        for j in range(min(top, m)):
            if known[i, j] != UNKNOWN:
                continue
            mean, count = mean_of_layers(u, known, i, j, 1)
            if count > 0:
                u[i, j], known[i, j] = mean, 1
                front[size, 0], front[size, 1] = i, j
                size += 1
    return size


@kernel
def extend(u, known, top, layers, front):
    """Set unknown faces to the mean of known neighbours, layer by layer from the water.

    Marks each with its layer. No face from column `top` on is known at first; front (faces, 2)
    is scratch space: the faces in the order in which they are found.
    u, known: faces of one component, (nr+1, nz) or (nr, nz+1).
    """
    n, m = u.shape
    first, last = 0, first_layer(u, known, top + 1, front)
    for layer in range(2, layers + 1):
        end = last
        for k in range(first, last):
            for side in range(4):
                i = front[k, 0] + (1 if side == 0 else (-1 if side == 1 else 0))
                j = front[k, 1] + (1 if side == 2 else (-1 if side == 3 else 0))
                if i < 0 or j < 0 or i >= n or j >= m or known[i, j] != UNKNOWN:
                    continue
                u[i, j], _ = mean_of_layers(u, known, i, j, layer)
                known[i, j] = layer
                front[end, 0], front[end, 1] = i, j
                end += 1
        first, last = last, end


@kernel
def settle_far_air(mesh, water, trace, u_r, u_z, known_r, known_z):
    """Beyond the layers air is at rest; drops keep their predicted velocity.

    water (nr, nz); u_r, known_r (nr+1, nz); u_z, known_z (nr, nz+1).
    """
    nr, nz = water.shape
    for i in range(1, nr):
        before, after = water[i - 1], water[i]
        volume_before, volume_after = mesh.volume[i - 1], mesh.volume[i]
        u, known = u_r[i], known_r[i]
        for j in range(nz):
            wet = (before[j] > trace * volume_before[j]) | (after[j] > trace * volume_after[j])
            rests = (known[j] == UNKNOWN) & (not wet)
            u[j] = 0.0 if rests else u[j]
            known[j] = DRY if rests else known[j]
    for i in range(nr):
        here, volume = water[i], mesh.volume[i]
        u, known = u_z[i], known_z[i]
        for j in range(1, nz):
            wet = (here[j - 1] > trace * volume[j - 1]) | (here[j] > trace * volume[j])
            rests = (known[j] == UNKNOWN) & (not wet)
            u[j] = 0.0 if rests else u[j]
            known[j] = DRY if rests else known[j]
        if known[nz] == UNKNOWN and not here[nz - 1] > trace * volume[nz - 1]:
            u[nz], known[nz] = 0.0, DRY


@part
def mean_of_known(u, known, i0, i1, j0, j1):
    """Mean of the known values in a block of faces, and how many there are."""
    total, count = 0.0, 0
    for i in range(max(i0, 0), min(i1, u.shape[0])):
        for j in range(max(j0, 0), min(j1, u.shape[1])):
            if known[i, j] >= 0 and known[i, j] < UNKNOWN:
                total += u[i, j]
                count += 1
    if count == 0:
        return 0.0, 0
    return total / count, count


@kernel
def fill_wall_faces(walls_r, normal_r, walls_z, normal_z, speed, u_r, u_z, known_r, known_z):
    """Slip values on closed faces beside open ones.

    walls_r (k, 2) and walls_z (k, 2) list the faces, normal_r and normal_z (k, 2) the wall's unit
    normal there. u = mean of open neighbours - ((mean - speed e_z) . n) n; if the other component
    has no open neighbour beside a slanted wall, the mean itself. u_r, known_r (nr+1, nz); u_z,
    known_z (nr, nz+1).
    """
    for k in range(walls_r.shape[0]):
        i, j = walls_r[k, 0], walls_r[k, 1]
        a, n = mean_of_known(u_r, known_r, i - 1, i + 2, j - 1, j + 2)
        if n == 0:
            a, n = mean_of_known(u_r, known_r, i - 2, i + 3, j - 2, j + 3)
        b, m = mean_of_known(u_z, known_z, i - 1, i + 1, j, j + 2)
        b = b if m > 0 else speed
        n_r = normal_r[k, 0]
        if m > 0 or normal_r[k, 1] == 0.0:
            a -= (a * n_r + (b - speed) * normal_r[k, 1]) * n_r
        u_r[i, j] = a
    for k in range(walls_z.shape[0]):
        i, j = walls_z[k, 0], walls_z[k, 1]
        b, n = mean_of_known(u_z, known_z, i - 1, i + 2, j - 1, j + 2)
        if n == 0:
            b, n = mean_of_known(u_z, known_z, i - 2, i + 3, j - 2, j + 3)
        a, m = mean_of_known(u_r, known_r, i, i + 2, j - 1, j + 1)
        b = b if n > 0 else speed
        n_z = normal_z[k, 1]
        if m > 0 or normal_z[k, 0] == 0.0:
            b -= (a * normal_z[k, 0] + (b - speed) * n_z) * n_z
        u_z[i, j] = b


@kernel
def extrapolate_in_time(u, u_old, known, known_old, ratio, out):
    """Velocity half a step ahead, u + ratio (u - u_old), if the face was wet both times.

    The old velocity is then replaced by the present one.
    All arrays hold the faces of one component, (nr+1, nz) or (nr, nz+1).
    """
    n, m = u.shape
    for i in range(n):
        here, old, ahead = u[i], u_old[i], out[i]
        wet, wet_old = known[i], known_old[i]
        for j in range(m):
            there = here[j] + ratio * (here[j] - old[j])
            ahead[j] = there if (wet[j] == 0) & (wet_old[j] == 0) else here[j]
        for j in range(m):
            old[j] = here[j]
            wet_old[j] = wet[j]


@kernel
def courant_rate(mesh, water, trace, u_r, u_z, speed):
    """Maximum of |u_r|/dr + |u_z - V|/dz over cells with water [1/s].

    water (nr, nz); u_r (nr+1, nz), u_z (nr, nz+1).
    """
    nr, nz = water.shape
    fastest = 0.0
    for i in range(nr):
        for j in range(nz):
            if mesh.volume[i, j] <= 0.0 or water[i, j] <= trace * mesh.volume[i, j]:
                continue
            a = max(
                abs(u_r[i, j]) if mesh.area_r[i, j] > 0.0 else 0.0,
                abs(u_r[i + 1, j]) if mesh.area_r[i + 1, j] > 0.0 else 0.0,
            )
            b = max(
                abs(u_z[i, j] - speed) if mesh.area_z[i, j] > 0.0 else 0.0,
                abs(u_z[i, j + 1] - speed) if mesh.area_z[i, j + 1] > 0.0 else 0.0,
            )
            fastest = max(fastest, a / mesh.dr[i] + b / mesh.dz[j])
    return fastest


@kernel
def has_bad_value(u):
    """Whether an array holds a value that is not finite.

    u (n, m).
    """
    for i in range(u.shape[0]):
        for j in range(u.shape[1]):
            if not np.isfinite(u[i, j]):
                return True
    return False
