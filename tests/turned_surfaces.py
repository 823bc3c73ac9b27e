"""Surfaces of revolution as triangles."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Surface = tuple[Array, NDArray[np.intp]]  # points (n, 3) and triangles (m, 3)


def turned(meridian: Array, sectors: int = 48) -> Surface:
    """Quadrilaterals in two triangles, and triangles at the axis, of a meridian (n, 2) of r, z."""
    angle = 2.0 * np.pi * np.arange(sectors) / sectors
    r, z = meridian.T
    points = np.stack(
        [np.outer(np.cos(angle), r), np.outer(np.sin(angle), r), np.tile(z, (sectors, 1))], axis=-1
    )
    n = len(meridian)
    number = np.arange(sectors * n).reshape(sectors, n)
    after = np.roll(number, -1, axis=0)
    a, b, c, d = number[:, :-1], number[:, 1:], after[:, 1:], after[:, :-1]
    halves = [np.stack(three, axis=-1).reshape(-1, 3) for three in ((a, b, c), (a, c, d))]
    triangles, points = np.vstack(halves), points.reshape(-1, 3)
    p, q, s = (points[triangles[:, k]] for k in range(3))
    return points, triangles[np.linalg.norm(np.cross(q - p, s - p), axis=1) > 0.0]
