"""Convection of the velocity on the staggered grid, upwind with a harmonic limiter.

The rate is the finite-volume form of (w . grad) u, w = u - V e_z the velocity relative to the grid:
du/dt = - (1 / volume) sum over faces of Q (u_face - u), Q the volume flux out of the control
volume. u_face is the upwind value plus half of van Leer's harmonic slope (J. Comput. Phys. 14,
1974, 361). Control volumes at walls take the open areas of their faces, and closed faces bring in
the wall values that `extension.fill_wall_faces` gave them.
"""

from . import kernel, part
from .extension import DRY, UNKNOWN


@part
def upwind(far, near, here, outflow):
    """Limited value on a face: `here` is this volume's value, `near` the neighbour's across it.

    For outflow the upwind volume is this one and `far` lies on its other side; for inflow the
    upwind volume is the neighbour and `far` lies beyond it.
    """
    centre = here if outflow else near
    down = near if outflow else here
    a = centre - far
    b = down - centre
    if a * b <= 0.0:
        return centre
    return centre + a * b / (a + b)


@part
def net_change(u, i, j, q_right, q_left, q_up, q_down):
    """Sum of Q_out (u_face - u) over the four faces of a control volume; edges are mirrored."""
    n = u.shape[0] - 1
    m = u.shape[1] - 1
    here = u[i, j]
    right = u[min(i + 1, n), j]
    left = u[max(i - 1, 0), j]
    up = u[i, min(j + 1, m)]
    down = u[i, max(j - 1, 0)]
    far_right = left if q_right > 0.0 else u[min(i + 2, n), j]
    far_left = right if q_left > 0.0 else u[max(i - 2, 0), j]
    far_up = down if q_up > 0.0 else u[i, min(j + 2, m)]
    far_down = up if q_down > 0.0 else u[i, max(j - 2, 0)]
    return (
        q_right * (upwind(far_right, right, here, q_right > 0.0) - here)
        + q_left * (upwind(far_left, left, here, q_left > 0.0) - here)
        + q_up * (upwind(far_up, up, here, q_up > 0.0) - here)
        + q_down * (upwind(far_down, down, here, q_down > 0.0) - here)
    )


@part
def at_rest(known, i, j):
    """Whether a face and its neighbours lie in air that rests."""
    return (
        known[i, j] == DRY
        and known[max(i - 1, 0), j] != UNKNOWN
        and known[min(i + 1, known.shape[0] - 1), j] != UNKNOWN
        and known[i, max(j - 1, 0)] != UNKNOWN
        and known[i, min(j + 1, known.shape[1] - 1)] != UNKNOWN
    )


@kernel
def convect_r(mesh, u_r, u_z, known_r, speed, dt, out):
    """u_r after dt of convection, on open faces that water may reach; others are copied."""
    nr, nz = mesh.volume.shape
    for i in range(nr + 1):
        for j in range(nz):
            out[i, j] = u_r[i, j]
            if mesh.area_r[i, j] <= 0.0 or at_rest(known_r, i, j):
                continue
            flux = mesh.area_r[i, j] * u_r[i, j]
            q_right = 0.5 * (flux + mesh.area_r[i + 1, j] * u_r[i + 1, j])
            q_left = -0.5 * (flux + mesh.area_r[i - 1, j] * u_r[i - 1, j])
            q_up = 0.5 * (
                mesh.area_z[i - 1, j + 1] * (u_z[i - 1, j + 1] - speed)
                + mesh.area_z[i, j + 1] * (u_z[i, j + 1] - speed)
            )
            q_down = -0.5 * (
                mesh.area_z[i - 1, j] * (u_z[i - 1, j] - speed)
                + mesh.area_z[i, j] * (u_z[i, j] - speed)
            )
            size = max(
                0.5 * (mesh.volume[i - 1, j] + mesh.volume[i, j]),
                mesh.area_r[i, j] * (mesh.r_c[i] - mesh.r_c[i - 1]),
                -dt * (min(q_right, 0.0) + min(q_left, 0.0) + min(q_up, 0.0) + min(q_down, 0.0)),
            )
            change = net_change(u_r, i, j, q_right, q_left, q_up, q_down)
            out[i, j] = u_r[i, j] - dt * change / size


@kernel
def convect_z(mesh, u_r, u_z, known_z, speed, dt, out):
    """u_z after dt of convection, on open faces that water may reach; others are copied."""
    nr, nz = mesh.volume.shape
    for i in range(nr):
        for j in range(nz + 1):
            out[i, j] = u_z[i, j]
            if j == 0 or j == nz or mesh.area_z[i, j] <= 0.0 or at_rest(known_z, i, j):
                continue
            flux = mesh.area_z[i, j] * (u_z[i, j] - speed)
            q_up = 0.5 * (flux + mesh.area_z[i, j + 1] * (u_z[i, j + 1] - speed))
            q_down = -0.5 * (flux + mesh.area_z[i, j - 1] * (u_z[i, j - 1] - speed))
            q_right = 0.5 * (
                mesh.area_r[i + 1, j - 1] * u_r[i + 1, j - 1]
                + mesh.area_r[i + 1, j] * u_r[i + 1, j]
            )
            q_left = -0.5 * (mesh.area_r[i, j - 1] * u_r[i, j - 1] + mesh.area_r[i, j] * u_r[i, j])
            size = max(
                0.5 * (mesh.volume[i, j - 1] + mesh.volume[i, j]),
                mesh.area_z[i, j] * (mesh.z_c[j] - mesh.z_c[j - 1]),
                -dt * (min(q_right, 0.0) + min(q_left, 0.0) + min(q_up, 0.0) + min(q_down, 0.0)),
            )
            change = net_change(u_z, i, j, q_right, q_left, q_up, q_down)
            out[i, j] = u_z[i, j] - dt * change / size
