"""Which bowls the map is made of: Sobol points in the space of their dimensions.

Sobol 1967, by scipy.stats.qmc. Drawn are d/D, the rim's radius, wall over radius (its logarithm),
height over radius (its logarithm), slope and load; what cannot be made, floats, is plugged by its
meniscus or takes too long is left out. Three quarters of the bowls have a hole in the middle range,
where the models part; two thirds of all are cones, a quarter of those cups.

Which bowls to compute next: those of which the surface through the map is least sure.

One after the other, each taken as known before the next is chosen (the pivots of a Cholesky
factorisation of the candidates' covariance), so that they do not crowd in one place. Unsureness is
weighed against effort: a release takes about as many steps as its sinking time has sqrt(R / g).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple

import numpy as np
from scipy.stats import qmc

from mapping.fit import known_of
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import SinkbowlError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected.flow_map import MapBowl, MapRow
from sinkbowl.corrected.surface import Surface
from sinkbowl.design.checking import verdict
from sinkbowl.running.forecast import SECONDS_A_CELL, forecast
from sinkbowl.statics.vessel import Vessel

RADII = 0.035, 0.080
"""Least and greatest radius of the rim [m]: from a tea bowl to a big one."""

WALLS = 0.015, 0.08
HEIGHTS = {"cone": (0.3, 2.0), "cap": (0.3, 1.0)}
"""Of the rim's radius."""

STEEPEST = math.radians(60.0)
"""Greatest slope of a cone's wall against upright [rad]."""

UPRIGHT = 0.25
"""Share of the cones that are cups."""

LEAST_LOAD, MOST_LOAD = 1.12, 0.92
"""Load, as a multiple of what makes it sink, and of what takes it under at once."""

TOWARDS_LIGHT = 1.3
"""Exponent of the load's share: light bowls take longer, and there are more of them."""

MOST_SECONDS = 60.0
"""Expected processor time of a run [s] beyond which a bowl is left out."""

MIDDLE = 0.3, 0.75
ENDS = (0.1, 0.3), (0.75, 0.95)


class Family(NamedTuple):
    """Bowls of one kind: shape, whether their holes are of the middle range, how many, and seed."""

    shape: str
    middle: bool
    wanted: int
    seed: int


FITTED = (
    Family("cone", True, 168, 11),
    Family("cap", True, 84, 12),
    Family("cone", False, 56, 13),
    Family("cap", False, 28, 14),
)
"""What the correction is learnt from."""

KEPT_OUT = (
    Family("cone", True, 20, 21),
    Family("cap", True, 10, 22),
    Family("cone", False, 6, 23),
    Family("cap", False, 4, 24),
)
"""What it is judged by."""


CANDIDATES = (
    Family("cone", True, 420, 31),
    Family("cap", True, 200, 32),
    Family("cone", False, 120, 33),
    Family("cap", False, 60, 34),
)
"""From which more bowls are chosen, where the fit is least sure."""


def drawn_bowls(family: Family) -> list[MapBowl]:
    """The bowls of a family, as many as it asks for."""
    points = qmc.Sobol(6, seed=family.seed).random(2 ** math.ceil(math.log2(4 * family.wanted)))
    return list(islice(_possible(family, points), family.wanted))


def _possible(family: Family, points: FloatArray) -> Iterator[MapBowl]:
    for point in points:
        bowl = _bowl(family, point)
        if bowl is not None and _worth(bowl):
            yield bowl


def _bowl(family: Family, point: FloatArray) -> MapBowl | None:
    """The bowl at a point (6,) of the unit cube; None where none can be made."""
    ratio = _ratio(family.middle, point[0])
    radius, wall = between(RADII, point[1]), between(WALLS, point[2])
    height = between(HEIGHTS[family.shape], point[3])
    base = 0.0
    if family.shape == "cone":
        least = max(0.2, ratio + wall + 0.02, 1.0 - height * math.tan(STEEPEST))
        if least >= 1.0:
            return None
        slanted = max(point[4] - UPRIGHT, 0.0) / (1.0 - UPRIGHT)
        base = 1.0 - slanted * (1.0 - least)
    mm = 1e3 * radius
    bowl = MapBowl(
        shape=family.shape,
        radius=four_digits(mm),
        height=four_digits(mm * height),
        wall=four_digits(mm * wall),
        base_radius=four_digits(mm * base),
        base=four_digits(mm * wall) if base else 0.0,
        hole=four_digits(2.0 * mm * ratio),
        mass=1.0,
    )
    return _loaded(bowl, point[5])


def _loaded(bowl: MapBowl, share: float) -> MapBowl | None:
    """The bowl with its mass, from just sinking to nearly under at once."""
    try:
        case = bowl.case()
    except SinkbowlError:
        return None
    vessel = Vessel(case)
    full = vessel.density * vessel.hull_volume
    least = max(LEAST_LOAD * vessel.density * case.bowl.solid_volume, 0.05 * full)
    most = MOST_LOAD * full
    if least > 0.9 * most:
        return None
    mass = least + (most - least) * share**TOWARDS_LIGHT
    return MapBowl(**{**bowl.__dict__, "mass": four_digits(1e3 * mass)})


def _worth(bowl: MapBowl) -> bool:
    """Whether it sinks by itself, and within the time that a run may take."""
    try:
        case = bowl.case()
        if verdict(case) not in ("sinks", "tips"):
            return False
        return forecast(case).cell_steps * SECONDS_A_CELL <= MOST_SECONDS
    except SinkbowlError:
        return False


def _ratio(middle: bool, share: float) -> float:
    """Hole over rim at a share of its range; of the ends, the wide holes get the larger part."""
    if middle:
        return MIDDLE[0] + share * (MIDDLE[1] - MIDDLE[0])
    shares = (0.0, 0.45, 0.45 + 1e-9, 1.0)
    return float(np.interp(share, shares, (*ENDS[0], *ENDS[1])))


def between(ends: tuple[float, float], share: float) -> float:
    """At a share of the way from one end to the other, in logarithms."""
    return float(ends[0] * (ends[1] / ends[0]) ** share)


def four_digits(number: float) -> float:
    """Four digits, as a person writes them."""
    return float(f"{number:.4g}")


NOISE = 0.01
"""Standard deviation of a single release's ln(time) about the surface, roughly."""


def least_sure(surface: Surface, candidates: Sequence[MapRow], count: int) -> list[int]:
    """Indices of so many candidates, least sure first."""
    effort = np.array([_effort(row) for row in candidates])
    like = [known_of(row.bowl).like for row in candidates]
    x, scale = np.array([one.x for one in like]), np.array([one.scale for one in like])
    left = surface.covariance(x, scale)
    chosen: list[int] = []
    for _ in range(min(count, len(candidates))):
        variance = np.diag(left).copy()
        variance[chosen] = -1.0
        k = int(np.argmax(variance / effort))
        chosen.append(k)
        column = left[:, k] / np.sqrt(left[k, k] + NOISE**2)
        left = left - np.outer(column, column)
    return chosen


def _effort(row: MapRow) -> float:
    """Of a release, with what it takes at the least; arbitrary unit."""
    return 1.0 + row.heave_time / math.sqrt(1e-3 * row.bowl.radius / GRAVITY)
