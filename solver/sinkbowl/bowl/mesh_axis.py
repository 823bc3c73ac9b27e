"""The axis of revolution of a surface, found in two ways, of which the better one counts.

It passes through the surface's centroid. Its direction is that of the principal axis of inertia
whose moment is unlike the two others; or the direction a for which the normals of the surface meet
the axis best, the least of sum A (n . (a x (x - c)))^2 (Pottmann & Randrup 1998, with the point
known). The first one fails where the three moments are alike, the second one for a bare sphere.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.hull import FloatArray


class Axis(NamedTuple):
    """A point on the axis (3,) [m] and its direction (3,), a unit vector."""

    point: FloatArray
    along: FloatArray

    def __str__(self) -> str:
        """The direction in words."""
        for name, unit in zip("xyz", np.eye(3), strict=True):
            if abs(float(unit @ self.along)) > 1.0 - 1e-9:
                return f"the axis along {name}"
        return "the axis along ({:.4g}, {:.4g}, {:.4g})".format(*self.along)

    def frame(self, points: FloatArray) -> FloatArray:
        """Points (n, 3) in coordinates x, y across and z along the axis."""
        least = np.eye(3)[np.argmin(np.abs(self.along))]
        x = np.cross(least, self.along)
        x /= np.linalg.norm(x)
        return np.asarray(
            (points - self.point) @ np.array((x, np.cross(self.along, x), self.along)).T
        )


def axes_of(points: FloatArray, triangles: NDArray[np.intp], given: str | None) -> list[Axis]:
    """Axes worth trying, one where its direction is given as x, y or z."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    normal = 0.5 * np.cross(b - a, c - a)
    area = np.linalg.norm(normal, axis=1)
    middle = (a + b + c) / 3.0
    centroid = area @ middle / area.sum()
    if given is not None:
        return [Axis(centroid, np.eye(3)["xyz".index(given)])]
    a, b, c, middle = a - centroid, b - centroid, c - centroid, middle - centroid
    weights = (area / 12.0)[:, None]
    spread = sum((weights * p).T @ p for p in (a, b, c, a + b + c))
    moments, directions = np.linalg.eigh(np.asarray(spread))
    odd = 0 if moments[1] - moments[0] > moments[2] - moments[1] else 2
    turning = np.cross(middle, normal / np.sqrt(area)[:, None])
    _, best = np.linalg.eigh(turning.T @ turning)
    return [Axis(centroid, directions[:, odd]), Axis(centroid, best[:, 0])]
