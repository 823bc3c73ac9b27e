"""Sums over the water for diagnostics and conservation budgets."""

from . import kernel


@kernel
def total(water):
    """Sum of the water with Neumaier's compensation (ZAMM 54, 1974, 39).

    water (nr, nz).
    """
    result = lost = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            x = water[i, j]
            t = result + x
            if abs(result) >= abs(x):
                lost += (result - t) + x
            else:
                lost += (x - t) + result
            result = t
    return result + lost


@kernel
def total_where(water, cells):
    """Sum of the water of the marked cells.

    water, cells (nr, nz).
    """
    result = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            if cells[i, j]:
                result += water[i, j]
    return result


@kernel
def upward_momentum(water, u_z):
    """Sum of water times the cell's mean vertical velocity [m^4/s per radian].

    water (nr, nz); u_z (nr, nz+1).
    """
    result = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            result += water[i, j] * 0.5 * (u_z[i, j] + u_z[i, j + 1])
    return result


@kernel
def upward_momentum_where(water, u_z, cells):
    """The same sum over the marked cells.

    water, cells (nr, nz); u_z (nr, nz+1).
    """
    result = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            if cells[i, j]:
                result += water[i, j] * 0.5 * (u_z[i, j] + u_z[i, j + 1])
    return result


@kernel
def kinetic_energy(water, u_r, u_z):
    """Sum of water times half of the cell's mean squared velocity [m^5/s^2 per radian].

    water (nr, nz); u_r (nr+1, nz), u_z (nr, nz+1).
    """
    result = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            square = u_r[i, j] ** 2 + u_r[i + 1, j] ** 2 + u_z[i, j] ** 2 + u_z[i, j + 1] ** 2
            result += 0.25 * water[i, j] * square
    return result


@kernel
def first_moment(water, volume, z, dz):
    """Sum of water times its height [m^4 per radian]; in mixed cells the water is on the fuller
    side.

    water, volume (nr, nz); z, dz (nz,).
    """
    result = 0.0
    n = water.shape[1]
    for i in range(water.shape[0]):
        for j in range(n):
            if water[i, j] <= 0.0:
                continue
            air = max(0.0, 1.0 - water[i, j] / volume[i, j])
            below = water[i, j - 1] if j > 0 else volume[i, j]
            above = water[i, j + 1] if j < n - 1 else 0.0
            side = 0.5 if above > below else (-0.5 if below > above else 0.0)
            result += water[i, j] * (z[j] + side * air * dz[j])
    return result
