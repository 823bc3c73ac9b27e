"""Constants of the surfaces through the map, by the likelihood of its rows.

scikit-learn's GaussianProcessRegressor finds amplitude, lengths and white noise of each surface
(Rasmussen & Williams 2006, ch. 5); corrected/surface.py uses them.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence

import numpy as np
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected.flow_map import (
    MEASURED,
    THEORY,
    MapRow,
    scatter_points,
    surface_of,
    time_noise,
)

RESTARTS = 4
LENGTHS = 0.2, 50.0
"""Ends of the lengths, in standard deviations of each number."""

Constants = dict[str, object]


def fitted(rows: Sequence[MapRow]) -> dict[str, Constants]:
    """Constants of the surfaces of time, bend and scatter."""
    known = [row for row in rows if row.use in (MEASURED, THEORY)]
    points = np.array([row.numbers for row in known])
    at, scatters, unsure = scatter_points(known)
    scatter = _fit(at, scatters, unsure, float(scatters.mean()))
    surface = surface_of(scatter, at, scatters, unsure)
    noise = time_noise(known, surface)
    return {
        "time": _fit(points, np.array([row.log_factor for row in known]), noise, 0.0),
        "bend": _fit(points, np.array([row.bend for row in known]), 0.0 * noise, 0.0),
        "scatter": scatter,
    }


def _fit(points: FloatArray, values: FloatArray, noise: FloatArray, mean: float) -> Constants:
    spread = points.std(axis=0)
    size = float(np.std(values - mean)) or 1.0
    kernel = ConstantKernel(1.0, (1e-2, 1e2)) * Matern(
        np.ones(points.shape[1]), LENGTHS, nu=2.5
    ) + WhiteKernel(0.01, (1e-5, 1.0))
    process = GaussianProcessRegressor(
        kernel, alpha=(noise / size) ** 2 + 1e-10, n_restarts_optimizer=RESTARTS, random_state=1
    )
    with warnings.catch_warnings():
        # A length at the end of its range says that this number hardly matters.
        warnings.simplefilter("ignore", ConvergenceWarning)
        process.fit(points / spread, (values - mean) / size)
    product, white = process.kernel_.k1, process.kernel_.k2
    return {
        "amplitude": size * float(np.sqrt(product.k1.constant_value)),
        "lengths": (product.k2.length_scale * spread).tolist(),
        "white": size * float(np.sqrt(white.noise_level)),
        "mean": mean,
    }
