"""Convection of the velocity on the staggered grid, upwind with a harmonic limiter.

The rate is the finite-volume form of (w . grad) u, w = u - V e_z the velocity relative to the grid:
du/dt = - (1 / volume) sum over faces of Q (u_face - u), Q the volume flux out of the control
volume. u_face is the upwind value plus half of van Leer's harmonic slope (J. Comput. Phys. 14,
1974, 361). Control volumes at walls have the open areas of their faces, and closed faces the wall
values of `extension.fill_wall_faces`.
"""

from . import kernel, part
from .extension import DRY, UNKNOWN


@part
def upwind(far, near, here, outflow):
    """Limited value on a face: `here` is this volume's value, `near` the neighbour's across it.

    For outflow the upwind volume is this one and `far` is on its other side; for inflow the upwind
    volume is the neighbour and `far` is beyond it.
    """
    centre = here if outflow else near
    a = centre - far
    b = (near if outflow else here) - centre
    return centre if a * b <= 0.0 else centre + a * b / (a + b)


@part
def carried(q, here, near, far, opposite):
    """Q (u_face - u) of one face of a control volume, `far` behind its neighbour `near` there."""
    return q * (upwind(opposite if q > 0.0 else far, near, here, q > 0.0) - here)


@part
def moved(here, change, inflow, area, dist, volume, dt):
    """Value after dt; the volume is at least that between its walls, or its inflow."""
    return here - dt * change / max(volume, area * dist, -dt * inflow)


@part
def live_end(known):
    """One more than the last face of a line that is neither closed nor in air at rest."""
    end = known.shape[0]
    while end > 0 and (known[end - 1] < 0 or known[end - 1] == DRY):
        end -= 1
    return end


@part
def at_rest(known, i, j, before, after, below, above):
    """Whether a face and its neighbours are in air at rest."""
    return (
        (known[i, j] == DRY)
        & (known[before, j] != UNKNOWN)
        & (known[after, j] != UNKNOWN)
        & (known[i, below] != UNKNOWN)
        & (known[i, above] != UNKNOWN)
    )


@part
def moved_r(mesh, u_r, u_z, known_r, speed, dt, i, j, far_below, below, above, far_above):
    """u_r after dt on face i, j; the last four are the neighbours' indices along z."""
    here = u_r[i, j]
    flux = mesh.area_r[i, j] * here
    q_right = 0.5 * (flux + mesh.area_r[i + 1, j] * u_r[i + 1, j])
    q_left = -0.5 * (flux + mesh.area_r[i - 1, j] * u_r[i - 1, j])
    q_up = 0.5 * (
        mesh.area_z[i - 1, j + 1] * (u_z[i - 1, j + 1] - speed)
        + mesh.area_z[i, j + 1] * (u_z[i, j + 1] - speed)
    )
    q_down = -0.5 * (
        mesh.area_z[i - 1, j] * (u_z[i - 1, j] - speed) + mesh.area_z[i, j] * (u_z[i, j] - speed)
    )
    far_left = u_r[max(i - 2, 0), j]
    far_right = u_r[min(i + 2, u_r.shape[0] - 1), j]
    change = (
        carried(q_right, here, u_r[i + 1, j], far_right, u_r[i - 1, j])
        + carried(q_left, here, u_r[i - 1, j], far_left, u_r[i + 1, j])
        + carried(q_up, here, u_r[i, above], u_r[i, far_above], u_r[i, below])
        + carried(q_down, here, u_r[i, below], u_r[i, far_below], u_r[i, above])
    )
    inflow = min(q_right, 0.0) + min(q_left, 0.0) + min(q_up, 0.0) + min(q_down, 0.0)
    volume = 0.5 * (mesh.volume[i - 1, j] + mesh.volume[i, j])
    area = mesh.area_r[i, j]
    dist = mesh.r_c[i] - mesh.r_c[i - 1]
    after = moved(here, change, inflow, area, dist, volume, dt)
    still = (area <= 0.0) | at_rest(known_r, i, j, i - 1, i + 1, below, above)
    return here if still else after


@kernel
def convect_r(mesh, u_r, u_z, known_r, speed, dt, out):
    """u_r after dt of convection, on open faces that water may reach; others are copied.

    u_r, known_r, out (nr+1, nz); u_z (nr, nz+1).
    """
    nr, nz = mesh.volume.shape
    last = nz - 1
    for j in range(nz):
        out[0, j], out[nr, j] = u_r[0, j], u_r[nr, j]
    for i in range(1, nr):
        end = max(live_end(known_r[i - 1]), live_end(known_r[i]))
        end = min(max(end, live_end(known_r[i + 1])) + 1, nz)
        for j in range(min(end, 2)):
            above = min(j + 1, last)
            out[i, j] = moved_r(
                mesh, u_r, u_z, known_r, speed, dt, i, j, 0, max(j - 1, 0), above, min(j + 2, last)
            )
        for j in range(2, min(end, nz - 2)):
            out[i, j] = moved_r(
                mesh, u_r, u_z, known_r, speed, dt, i, j, j - 2, j - 1, j + 1, j + 2
            )
        for j in range(max(nz - 2, 2), end):
            above = min(j + 1, last)
            out[i, j] = moved_r(mesh, u_r, u_z, known_r, speed, dt, i, j, j - 2, j - 1, above, last)
        for j in range(end, nz):
            out[i, j] = u_r[i, j]


@part
def moved_z(mesh, u_r, u_z, known_z, speed, dt, i, j, far_below, far_above):
    """u_z after dt on face i, j; the last two are the indices of the second neighbours along z."""
    before, after = max(i - 1, 0), min(i + 1, u_z.shape[0] - 1)
    here = u_z[i, j]
    flux = mesh.area_z[i, j] * (here - speed)
    q_up = 0.5 * (flux + mesh.area_z[i, j + 1] * (u_z[i, j + 1] - speed))
    q_down = -0.5 * (flux + mesh.area_z[i, j - 1] * (u_z[i, j - 1] - speed))
    q_right = 0.5 * (
        mesh.area_r[i + 1, j - 1] * u_r[i + 1, j - 1] + mesh.area_r[i + 1, j] * u_r[i + 1, j]
    )
    q_left = -0.5 * (mesh.area_r[i, j - 1] * u_r[i, j - 1] + mesh.area_r[i, j] * u_r[i, j])
    far_left = u_z[max(i - 2, 0), j]
    far_right = u_z[min(i + 2, u_z.shape[0] - 1), j]
    change = (
        carried(q_right, here, u_z[after, j], far_right, u_z[before, j])
        + carried(q_left, here, u_z[before, j], far_left, u_z[after, j])
        + carried(q_up, here, u_z[i, j + 1], u_z[i, far_above], u_z[i, j - 1])
        + carried(q_down, here, u_z[i, j - 1], u_z[i, far_below], u_z[i, j + 1])
    )
    inflow = min(q_right, 0.0) + min(q_left, 0.0) + min(q_up, 0.0) + min(q_down, 0.0)
    volume = 0.5 * (mesh.volume[i, j - 1] + mesh.volume[i, j])
    area = mesh.area_z[i, j]
    dist = mesh.z_c[j] - mesh.z_c[j - 1]
    later = moved(here, change, inflow, area, dist, volume, dt)
    still = (area <= 0.0) | at_rest(known_z, i, j, before, after, j - 1, j + 1)
    return here if still else later


@kernel
def convect_z(mesh, u_r, u_z, known_z, speed, dt, out):
    """u_z after dt of convection, on open faces that water may reach; others are copied.

    u_r (nr+1, nz); u_z, known_z, out (nr, nz+1).
    """
    nr, nz = mesh.volume.shape
    for i in range(nr):
        end = max(live_end(known_z[max(i - 1, 0)]), live_end(known_z[i]))
        end = min(max(end, live_end(known_z[min(i + 1, nr - 1)])) + 1, nz)
        out[i, 0] = u_z[i, 0]
        if end > 1:
            out[i, 1] = moved_z(mesh, u_r, u_z, known_z, speed, dt, i, 1, 0, min(3, nz))
        for j in range(2, min(end, nz - 1)):
            out[i, j] = moved_z(mesh, u_r, u_z, known_z, speed, dt, i, j, j - 2, j + 2)
        if end == nz and nz > 2:
            out[i, nz - 1] = moved_z(mesh, u_r, u_z, known_z, speed, dt, i, nz - 1, nz - 3, nz)
        for j in range(end, nz + 1):
            out[i, j] = u_z[i, j]
