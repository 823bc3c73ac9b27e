"""The meridian of a bowl as its outer and inner side, both from the hole's edge to the rim."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.common.errors import InputRefused

SAME_HEIGHT = 1e-5
"""Share of the meridian's size within which points have the same radius or height."""


class Sides(NamedTuple):
    """Outer outline (n, 2) of r, z [m] from hole or axis to the rim; inner (m, 2) where known."""

    outer: FloatArray
    inner: FloatArray | None = None


def sides_of(chain: FloatArray, closed: bool) -> Sides:
    """Sides of a bowl from its meridian, upright or upside down.

    Parameters
    ----------
    chain : (n, 2) points r, z [m] in either direction
    closed : whether it ends where it begins; a body without a hole has both ends on the axis

    Raises
    ------
    InputRefused : it is not the meridian of a bowl
    """
    near = SAME_HEIGHT * float(np.ptp(chain, axis=0).max())
    if not closed and max(chain[0, 0], chain[-1, 0]) > near:
        return Sides(_skin(chain))
    upright = _upright(chain, near)
    ring = upright[:-1] if closed else upright
    if _area(ring) < 0.0:
        ring = ring[::-1]
    lowest = np.lexsort((ring[:, 1], ring[:, 0] > ring[:, 0].min() + near))[0]
    ring = np.roll(ring, -int(lowest), axis=0)
    base = np.flatnonzero(ring[:, 0] <= ring[:, 0].min() + near)
    top = np.flatnonzero(ring[:, 1] >= ring[:, 1].max() - near)
    outer_rim, inner_rim = top[ring[top, 0].argmax()], top[ring[top, 0].argmin()]
    inner_edge = base[ring[base, 1].argmax()]
    if not 0 < outer_rim < inner_rim < inner_edge:
        raise InputRefused(
            "is a body without a hole or closed base below and a flat rim above",
            "Give only the bowl, or its outer surface.",
            "profile",
        )
    outer, inner = ring[: outer_rim + 1], ring[inner_rim : inner_edge + 1][::-1].copy()
    inner[0, 0], inner[-1, 1] = outer[0, 0], outer[-1, 1]
    return Sides(outer, inner)


def _skin(chain: FloatArray) -> FloatArray:
    """One side, from the end nearer the axis to the other, which is the rim and goes up."""
    if chain[0, 0] > chain[-1, 0]:
        chain = chain[::-1]
    return chain * [1.0, 1.0 if chain[-1, 1] >= chain[0, 1] else -1.0]


def _upright(chain: FloatArray, near: float) -> FloatArray:
    """The meridian with what is nearest to the axis, hole or base, in its lower half."""
    z = chain[:, 1]
    base = float(z[chain[:, 0] <= chain[:, 0].min() + near].mean())
    return chain * [1.0, 1.0 if base <= 0.5 * (z.min() + z.max()) else -1.0]


def _area(ring: FloatArray) -> float:
    """Twice the area of a polygon (n, 2), positive counter-clockwise."""
    following = np.roll(ring, -1, axis=0)
    return float(np.sum(ring[:, 0] * following[:, 1] - ring[:, 1] * following[:, 0]))
