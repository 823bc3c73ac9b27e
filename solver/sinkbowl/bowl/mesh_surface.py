"""The meridian of a surface of revolution from its triangles.

A half plane through the axis cuts the triangles in a chain of segments. Where it cuts an edge, the
chain takes radius and height between those of the edge's ends: facets lie inside the surface, the
points of a mesh on it. All points must then lie on the chain, and the triangles must cover the
surface that it sweeps; otherwise it is not a surface of revolution, and the message says where.

The axis of revolution is found in two ways; the better one is taken.

It passes through the surface's centroid. Its direction is the principal axis of inertia whose
moment differs most from the two others, or the direction a whose axis the surface normals meet
best: minimum of sum A (n . (a x (x - c)))^2 (Pottmann & Randrup 1998, with the point known). The
first fails if the three moments are equal, the second for a sphere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, get_coordinates

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.bowl.mesh_file import chain_of
from sinkbowl.common.errors import InputRefused

MOST_OFF_AXIS = 0.005
"""Largest distance of a point from the meridian, as a share of the bowl's radius."""

LEAST_COVERED, MOST_COVERED = 0.95, 1.02
"""Area of the triangles over what the meridian sweeps: 0.955 for a flat ring of 12 sectors."""

SAME_POINT = 1e-7  # points closer than this share of the surface's size are one
FINEST = 1e-5  # bends of the meridian flatter than this share of its size are removed

SAMPLES = 4000


@dataclass(frozen=True, eq=False)
class Meridian:
    """Chain of points (n, 2) of r, z [m], and how well a surface's points lie on it.

    closed: whether it ends where it begins; mean and off: mean and largest distance of the points
    from it [m]; farthest: number of the point that is farthest from it.
    """

    chain: FloatArray
    closed: bool
    mean: float
    off: float
    farthest: int


def meridian_of(points: FloatArray, triangles: NDArray[np.intp], given: str | None) -> Meridian:
    """Meridian of a surface about its best axis.

    points, triangles : (n, 3) [m], (m, 3)
    given : direction of the axis, x, y or z; None: to be found

    Raises InputRefused if the surface is in pieces, or not a surface of revolution.
    """
    points, triangles = _joined(points, triangles)
    found: list[tuple[Meridian, Axis]] = []
    refused: list[InputRefused] = []
    for axis in axes_of(points, triangles, given):
        own = axis.frame(points)
        for angle in _free_angles(own):
            try:
                found.append((_cut(own, triangles, angle), axis))
            except InputRefused as error:
                refused.append(error)
    if not found:
        raise refused[0]
    meridian, axis = min(found, key=lambda pair: pair[0].mean)
    _check_points(meridian, axis, points, given)
    _check_cover(meridian, points, triangles)
    return meridian


def _joined(points: FloatArray, triangles: NDArray[np.intp]) -> tuple[FloatArray, NDArray[np.intp]]:
    """Points that are used, each once, and triangles that have an area."""
    used = np.unique(triangles)
    size = float(np.ptp(points[used], axis=0).max(initial=0.0))
    if size == 0.0:
        raise _refuse("is a single point")
    steps = np.round(points / (SAME_POINT * size))
    _, first, number = np.unique(steps, axis=0, return_index=True, return_inverse=True)
    triangles = number.reshape(-1)[triangles]
    a, b, c = triangles.T
    triangles = triangles[(a != b) & (b != c) & (c != a)]
    p, q, s = (points[first][triangles[:, k]] for k in range(3))
    triangles = triangles[np.linalg.norm(np.cross(q - p, s - p), axis=1) > 0.0]
    if not len(triangles):
        raise _refuse("has no triangle with an area")
    used, triangles = np.unique(triangles, return_inverse=True)
    return points[first][used], triangles.reshape(-1, 3)


def _cut(points: FloatArray, triangles: NDArray[np.intp], angle: float) -> Meridian:
    """Meridian at an angle about the third axis; the distance of the points is not checked."""
    chain, closed = _sliced(points, triangles, angle)
    size = float(np.ptp(chain, axis=0).max())
    chain = get_coordinates(LineString(chain).simplify(FINEST * size, preserve_topology=False))
    off = _distances(np.column_stack((np.hypot(*points[:, :2].T), points[:, 2])), chain)
    return Meridian(chain, closed, float(off.mean()), float(off.max()), int(off.argmax()))


def _sliced(
    points: FloatArray, triangles: NDArray[np.intp], angle: float
) -> tuple[FloatArray, bool]:
    """Chain of r, z where a half plane through the axis cuts the triangles."""
    x, y, z = points.T
    r = np.hypot(x, y)
    outwards = x * np.cos(angle) + y * np.sin(angle)
    side = y * np.cos(angle) - x * np.sin(angle)
    left = (side >= 0.0)[triangles]
    cut = triangles[left.any(axis=1) & ~left.all(axis=1)]
    edges = np.sort(cut[:, [[0, 1], [1, 2], [2, 0]]], axis=2)
    crossed = (side >= 0.0)[edges[..., 0]] != (side >= 0.0)[edges[..., 1]]
    known, number = np.unique(edges[crossed], axis=0, return_inverse=True)
    segments = number.reshape(-1, 2)
    a, b = known.T
    share = side[a] / (side[a] - side[b])
    at_x, at_r, at_z = (v[a] + share * (v[b] - v[a]) for v in (outwards, r, z))
    nodes, segments = _half(at_x, np.column_stack((at_r, at_z)), segments)
    if not len(segments):
        raise _refuse("does not surround its axis")
    try:
        return chain_of(nodes[segments])
    except InputRefused:
        raise _refuse(
            "is not one surface: its section has loose ends, branches or separate parts",
            "Give only the bowl: one closed body, or its outer surface.",
        ) from None


def _half(
    x: FloatArray, nodes: FloatArray, segments: NDArray[np.intp]
) -> tuple[FloatArray, NDArray[np.intp]]:
    """The segments on the outward side of the axis, with new nodes where they cross it."""
    kept = segments[np.all(x[segments] > 0.0, axis=1)]
    crossing = segments[(x[segments] > 0.0).sum(axis=1) == 1]
    inside = np.where(x[crossing[:, 0]] > 0.0, crossing[:, 0], crossing[:, 1])
    outside = crossing.sum(axis=1) - inside
    share = x[inside] / (x[inside] - x[outside])
    height = nodes[inside, 1] + share * (nodes[outside, 1] - nodes[inside, 1])
    on_axis = np.column_stack((np.zeros(len(height)), height))
    fresh = len(nodes) + np.arange(len(height))
    return np.vstack((nodes, on_axis)), np.vstack((kept, np.column_stack((inside, fresh))))


def _free_angles(points: FloatArray) -> list[float]:
    """Middles of the widest gaps between the angles of points, one in each third of a turn.

    A dent or gap in the surface affects at most one of the three cuts.
    """
    x, y, _ = points.T
    r = np.hypot(x, y)
    angles = np.sort(np.arctan2(y, x)[r > 1e-6 * r.max()] % (2.0 * np.pi))
    gaps = np.diff(np.append(angles, angles[0] + 2.0 * np.pi))
    thirds = np.floor(angles / (2.0 * np.pi / 3.0))
    found = []
    for third in np.unique(thirds):
        k = int(np.argmax(np.where(thirds == third, gaps, -1.0)))
        found.append(float(angles[k] + 0.5 * gaps[k]))
    return found


def _distances(points: FloatArray, chain: FloatArray) -> FloatArray:
    """Distance (n,) of points from a chain in r, z, to segments around the nearest node."""
    start, step = chain[:-1], np.diff(chain, axis=0)
    length = np.hypot(*step.T)
    per = np.maximum(np.ceil(SAMPLES * length / length.sum()), 1).astype(int)
    owner = np.repeat(np.arange(len(length)), per)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(per) - per, per) + 0.5) / per[owner]
    _, nearest = cKDTree(start[owner] + share[:, None] * step[owner]).query(points)
    found = np.full(len(points), np.inf)
    for shift in (-1, 0, 1):
        k = np.clip(owner[nearest] + shift, 0, len(length) - 1)
        along = np.sum((points - start[k]) * step[k], axis=1) / length[k] ** 2
        gap = points - start[k] - np.clip(along, 0.0, 1.0)[:, None] * step[k]
        found = np.minimum(found, np.hypot(*gap.T))
    return found


def _check_points(meridian: Meridian, axis: Axis, points: FloatArray, given: str | None) -> None:
    allowed = MOST_OFF_AXIS * float(meridian.chain[:, 0].max())
    if meridian.off <= allowed:
        return
    x, y, z = np.round(1e3 * points[meridian.farthest], 3) + 0.0
    advice = (
        'If the axis is wrong, give its direction: axis = "z".'
        if given is None
        else "Leave axis out: it is then found."
    )
    raise _refuse(
        f"is not a surface of revolution about {axis}: the point x = {x:.4g}, y = {y:.4g}, "
        f"z = {z:.4g} mm is {1e3 * meridian.off:.3g} mm off the outline",
        f"Allowed are {1e3 * allowed:.2g} mm. {advice}",
    )


def _check_cover(meridian: Meridian, points: FloatArray, triangles: NDArray[np.intp]) -> None:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    area = 0.5 * float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())
    step, r = np.diff(meridian.chain, axis=0), meridian.chain[:, 0]
    covered = area / float(np.pi * np.sum((r[1:] + r[:-1]) * np.hypot(*step.T)))
    if not LEAST_COVERED <= covered <= MOST_COVERED:
        raise _refuse(
            f"covers {100.0 * covered:.3g} % of the surface that its outline sweeps",
            "The surface must be closed all round, without gaps or double faces, in 24 sectors or "
            "more.",
        )


def _refuse(message: str, allowed: str = "") -> InputRefused:
    return InputRefused(message, allowed, "profile")


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
    """Candidate axes; only one if the direction is given as x, y or z."""
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
