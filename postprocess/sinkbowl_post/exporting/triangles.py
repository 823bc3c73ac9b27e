"""A simple polygon as triangles between its own corners, by clipping ears (Meisters 1975)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

ON_EDGE = 1e-13
"""Twice the area over the polygon's size squared below which a point lies on an edge."""


def triangles_of(polygon: Array) -> NDArray[np.intp]:
    """Corner numbers (k - 2, 3) of the triangles of a counter-clockwise polygon (k, 2).

    Of all ears the one with the widest least angle goes first. Triangles have no area where three
    corners of the polygon lie in line; together they have the polygon's area in any case.
    """
    left = list(range(len(polygon)))
    found = []
    while len(left) > 3:
        best = max(range(len(left)), key=lambda n: _quality(polygon, left, n))
        found.append((left[best - 1], left[best], left[(best + 1) % len(left)]))
        del left[best]
    return np.array([*found, left], dtype=np.intp)


def _quality(polygon: Array, left: list[int], n: int) -> float:
    """Twice the ear's area over its longest side squared; below zero where it is no ear."""
    corners = left[n - 1], left[n], left[(n + 1) % len(left)]
    a, b, c = polygon[list(corners)]
    area = float(_turn(a, b, c))
    others = polygon[[k for k in left if k not in corners]].T
    near = -ON_EDGE * float(np.max(np.ptp(polygon, axis=0))) ** 2
    inside = np.all([_turn(p, q, others) >= near for p, q in ((a, b), (b, c), (c, a))], axis=0)
    if area < 0.0 or np.any(inside):
        return -1.0
    longest = max(float(np.sum((p - q) ** 2)) for p, q in ((a, b), (b, c), (c, a)))
    return area / longest


def _turn(a: Array, b: Array, c: Array) -> Array:
    """Twice the area to the left of a, b, c; c may be (2, m)."""
    return np.asarray((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
