"""The surface through the map: the constants of greatest likelihood (Rasmussen & Williams 2006,
eq. 5.9), and the text of surface.toml.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import minimize

from sinkbowl.common import QUANTILE
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected.flow_map import MEASURED, MapBowl, MapRow
from sinkbowl.corrected.similarity import LEARNT_BY, Likeness, likeness
from sinkbowl.corrected.surface import FLOOR, Learnt, Surface, checksum, matern
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.reduced import heave
from sinkbowl.scatter.interval import hole_ratio, repeat_runs_at
from sinkbowl.verification.flow_map import as_the_flow_sees_it

SHORTEST, LONGEST = 0.15, 30.0
"""Ends of the lengths, in standard deviations of each number."""


class Known(NamedTuple):
    """A bowl by the heave model with the flow's wall and jet: likeness, time [s], and d/D."""

    like: Likeness
    heave_time: float
    ratio: float


@cache
def known_of(bowl: MapBowl) -> Known:
    """Heave's answer for a bowl of the map."""
    case = meniscus_aside(as_the_flow_sees_it(bowl.case()))
    by_heave = heave.solve(case)
    assert by_heave.sinking_time is not None
    return Known(likeness(case, by_heave), by_heave.sinking_time, hole_ratio(case))


def fitted(rows: Sequence[MapRow]) -> Learnt:
    """What the measured rows of a map teach."""
    measured = [row for row in rows if row.use == MEASURED]
    known = [known_of(row.bowl) for row in measured]
    points = np.array([one.like.x for one in known])
    scale = np.array([one.like.scale for one in known])
    rough = np.array([one.like.rough for one in known])
    values = np.log([row.time / one.heave_time for row, one in zip(measured, known, strict=True)])
    members = np.array([row.members for row in measured])
    scatter = np.array([repeat_runs_at(one.ratio).scatter for one in known]) / QUANTILE
    given = np.hypot(scatter / np.sqrt(members), FLOOR)
    spread = points.std(axis=0)
    p = greatest_likelihood(points / spread, values, scale, rough, given)
    white = float(np.exp(p[-1]))
    noise = np.hypot(white * np.sqrt(rough), given)
    surface = Surface(points, values, scale, noise, float(np.exp(p[0])), spread * np.exp(p[1:-1]))
    return Learnt(surface, white)


def greatest_likelihood(
    points: FloatArray, values: FloatArray, scale: FloatArray, rough: FloatArray, given: FloatArray
) -> FloatArray:
    """Logarithms of amplitude, of the lengths (k,), and of the unexplained noise.

    Parameters
    ----------
    points : (n, k), each number in its standard deviations
    values, scale : (n,) of the surface
    rough : (n,) variance of the unexplained noise where its logarithm is 0
    given : (n,) standard deviation of the noise that is known
    """
    outer, k = np.outer(scale, scale), points.shape[1]

    def loss(p: FloatArray) -> tuple[float, FloatArray]:
        z = points / np.exp(p[1:-1])
        kernel, slope = matern(z, z)
        signal, noise = np.exp(2.0 * p[0]) * outer * kernel, np.exp(2.0 * p[-1]) * rough
        root = cholesky(signal + np.diag(noise + given**2), lower=True)
        inner = solve_triangular(root, np.eye(len(values)), lower=True)
        inverse = inner.T @ inner
        weights = inverse @ values
        pull = inverse - np.outer(weights, weights)
        stretch = pull * np.exp(2.0 * p[0]) * outer * slope
        sums = stretch.sum(axis=1)
        lengths = [(z[:, i] ** 2) @ sums - z[:, i] @ (stretch @ z[:, i]) for i in range(k)]
        slopes = np.array([np.sum(pull * signal), *lengths, np.diag(pull) @ noise])
        return float(0.5 * values @ weights + np.log(np.diag(root)).sum()), slopes

    start = np.array([-0.8, *np.full(k, np.log(2.0)), -3.0])
    bounds = [(-4.0, 2.0), *[(np.log(SHORTEST), np.log(LONGEST))] * k, (-7.0, 0.0)]
    found = minimize(loss, start, jac=True, method="L-BFGS-B", bounds=bounds)
    return np.asarray(found.x)


def written(known: Learnt, table: bytes) -> str:
    """surface.toml of what was learnt from a table."""
    surface = known.surface
    columns = np.column_stack((surface.points, surface.scale, surface.noise, surface.values))
    return "\n".join(
        (
            "# tests/benchmarks/fit_map.py",
            f'table_sha256 = "{checksum(table)}"',
            f"amplitude = {surface.amplitude:.6g}",
            f"white = {known.white:.6g}",
            f"# {', '.join(LEARNT_BY)}",
            f"lengths = [{_row(surface.lengths)}]",
            "# the same; scale, noise, ln(flow over heave)",
            'rows = """',
            *(_row(row) for row in columns),
            '"""\n',
        )
    )


def _row(numbers: FloatArray) -> str:
    return ", ".join(f"{number:.6g}" for number in numbers)
