"""Draft, speed and water levels at release."""

import numpy as np
from scipy.optimize import brentq
from scipy.special import jv, yv

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.statics.hydrostatics import dry_draft

from .grid.grid import Array

THINNEST = 0.01
"""Minimum radius of the bowl at the water, over the tub's, for the shape of the wave: a dropped
bowl touches the water at a point, where a ring mode has no height."""


def release(case: Case, cell: float) -> tuple[float, float]:
    """Draft [m] and downward speed [m/s] at release.

    A bowl that is not held and has no dry draft is released with its base one `cell` [m] deep.
    """
    if case.start.kind == "drop":
        return 0.0, float(np.sqrt(2.0 * GRAVITY * case.start.drop_height))
    if case.start.kind == "held":
        return case.start.draft, 0.0
    dry = dry_draft(case)
    draft = dry if dry is not None else cell
    push = case.start.push if case.start.kind == "push" else 0.0
    return draft, push / case.total_mass


def wave_levels(r_f: Array, inner: float, height: float) -> Array:
    """Mean level of each column of cells under the longest standing wave around the bowl [m].

    J0(kr) Y1(ka) - Y0(kr) J1(ka), the mode of the water between two upright walls, with zero slope
    at both and zero volume, with the smallest such k > 0 (Lamb, Hydrodynamics, art. 191 for the tub
    alone; between walls from first principles). Scaled to `height` at the inner wall; flat inside
    it.

    Parameters
    ----------
    r_f : (nr+1,) radii of the column's faces; the last one is the tub's wall [m]
    inner : a, radius of the bowl at the water [m]
    height : of the wave at the bowl [m]
    """
    outer = float(r_f[-1])
    inner = max(inner, THINNEST * outer)

    def slope(k: float) -> float:
        return float(jv(1, k * outer) * yv(1, k * inner) - yv(1, k * outer) * jv(1, k * inner))

    # between pi (narrow ring) and 3.83 (very thin bowl) over the ring's width
    k = brentq(slope, 3.0 / (outer - inner), 4.0 / (outer - inner))
    at_bowl = jv(0, k * inner) * yv(1, k * inner) - yv(0, k * inner) * jv(1, k * inner)
    r = np.maximum(r_f, inner)
    volume = r * (jv(1, k * r) * yv(1, k * inner) - yv(1, k * r) * jv(1, k * inner)) / k
    volume += 0.5 * at_bowl * (np.minimum(r_f, inner) ** 2)
    return np.asarray(height / at_bowl * 2.0 * np.diff(volume) / np.diff(r_f**2))
