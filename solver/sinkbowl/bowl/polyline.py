"""Chains of segments: put in order, and thinned out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.common.errors import InputRefused


def chain_of(segments: NDArray[np.intp]) -> tuple[list[int], bool]:
    """Point numbers along one chain of segments (n, 2), and whether it is closed.

    A closed chain ends with the point that it begins with.

    Raises
    ------
    InputRefused : the segments are not one chain
    """
    neighbours: dict[int, list[int]] = {}
    for a, b in segments.tolist():
        neighbours.setdefault(a, []).append(b)
        neighbours.setdefault(b, []).append(a)
    ends = [point for point, others in neighbours.items() if len(others) == 1]
    if len(ends) not in (0, 2) or max(len(others) for others in neighbours.values()) > 2:
        raise InputRefused("holds lines that are not one chain", key="profile")
    order = [ends[0] if ends else next(iter(neighbours))]
    before = -1
    while following := [point for point in neighbours[order[-1]] if point != before]:
        before = order[-1]
        order.append(following[0])
        if order[-1] == order[0]:
            break
    if len(order) != len(neighbours) + (not ends):
        raise InputRefused("holds lines that are not one chain", key="profile")
    return order, not ends


def thinned(chain: FloatArray, coarsest: float) -> FloatArray:
    """A chain (n, 2) without the points that lie nearer than `coarsest` to what is left.

    Ramer 1972, Douglas & Peucker 1973. The ends are kept.
    """
    keep = np.zeros(len(chain), dtype=bool)
    keep[[0, -1]] = True
    open_spans = [(0, len(chain) - 1)]
    while open_spans:
        first, last = open_spans.pop()
        if last - first < 2:
            continue
        distance = _from_segment(chain[first + 1 : last], chain[first], chain[last])
        farthest = int(distance.argmax())
        if distance[farthest] > coarsest:
            middle = first + 1 + farthest
            keep[middle] = True
            open_spans += [(first, middle), (middle, last)]
    return chain[keep]


def _from_segment(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    along = end - start
    length = float(along @ along)
    share = np.clip((points - start) @ along / length, 0.0, 1.0) if length > 0.0 else 0.0
    return np.asarray(np.hypot(*(points - start - np.multiply.outer(share, along)).T))
