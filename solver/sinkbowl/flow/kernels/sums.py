"""Sums over the water that the ledgers and gauges need."""

from . import kernel


@kernel
def total(water):
    """Sum of the water with Neumaier's compensation (ZAMM 54, 1974, 39)."""
    result = 0.0
    lost = 0.0
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
    """Sum of the water of the marked cells."""
    result = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            if cells[i, j]:
                result += water[i, j]
    return result


@kernel
def upward_momentum(water, u_z):
    """Sum of water times the cell's mean vertical velocity [m^4/s per radian]."""
    result = 0.0
    for i in range(water.shape[0]):
        for j in range(water.shape[1]):
            result += water[i, j] * 0.5 * (u_z[i, j] + u_z[i, j + 1])
    return result
