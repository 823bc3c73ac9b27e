"""How deep a bowl lies, and how fast it moves, at the moment of release.

No two releases by hand are alike: the bowl is let go a little too deep or too shallow, and the
water is never quite still. That little is a `Disturbance`; it is enough to part two sinkings once
their fountains break up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import jv, yv

from sinkbowl.case.case import Case
from sinkbowl.statics.hydrostatics import dry_draft

from ..constants import GRAVITY
from .grid import Array

DRAFT_SCATTER = 1e-4
"""Standard deviation of the draft at which a careful hand lets go [m] (common practice, no source:
about what the meniscus hides)."""

WAVE_SCATTER = 1e-4
"""Standard deviation of the height at the bowl of the wave that is left on the water [m] (common
practice, no source: about the least that one sees glitter)."""


THINNEST = 0.01
"""Least radius of the bowl at the water, over the tub's, for the shape of the wave: a bowl that is
dropped touches the water at a point, where the mode of a ring has no height."""


@dataclass(frozen=True)
class Disturbance:
    """By how much one release differs from what the case says.

    draft: the bowl lies so much deeper [m]; wave: height at the bowl of a standing wave that is at
    rest at its crest, the longest that fits between bowl and tub [m]; negative: a trough there.
    """

    draft: float = 0.0
    wave: float = 0.0


UNDISTURBED = Disturbance()
"""The release as the case says, to the letter."""


def drawn(seed: int, member: int) -> Disturbance:
    """The disturbance of one member of an ensemble, both parts normally distributed.

    It depends on seed and member alone: an ensemble holds all smaller ones of its seed.

    Parameters
    ----------
    seed, member : 0 or more

    Raises
    ------
    ValueError : one of them is negative
    """
    draft, wave = np.random.default_rng([seed, member]).standard_normal(2)
    return Disturbance(DRAFT_SCATTER * float(draft), WAVE_SCATTER * float(wave))


def release(case: Case, cell: float) -> tuple[float, float]:
    """Draft [m] and downward speed [m/s] at release.

    A bowl without a dry draft is let go with its base one `cell` [m] deep.
    """
    if case.start.kind == "drop":
        return 0.0, float(np.sqrt(2.0 * GRAVITY * case.start.drop_height))
    dry = dry_draft(case)
    draft = dry if dry is not None else cell
    push = case.start.push if case.start.kind == "push" else 0.0
    return draft, push / case.total_mass


def wave_levels(r_f: Array, inner: float, height: float) -> Array:
    """Mean level of each column of cells under the longest standing wave around the bowl [m].

    J0(kr) Y1(ka) - Y0(kr) J1(ka), the mode of the water between two upright walls, level at both
    and without volume, with the least k > 0 for that (Lamb, Hydrodynamics, art. 191 for the tub
    alone; between walls from first principles). Scaled to `height` at the inner wall; within it
    level.

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

    # between pi (a narrow ring) and 3.83 (a bowl thin as a needle) over the ring's width
    k = brentq(slope, 3.0 / (outer - inner), 4.0 / (outer - inner))
    at_bowl = jv(0, k * inner) * yv(1, k * inner) - yv(0, k * inner) * jv(1, k * inner)
    r = np.maximum(r_f, inner)
    volume = r * (jv(1, k * r) * yv(1, k * inner) - yv(1, k * r) * jv(1, k * inner)) / k
    volume += 0.5 * at_bowl * (np.minimum(r_f, inner) ** 2)
    return np.asarray(height / at_bowl * 2.0 * np.diff(volume) / np.diff(r_f**2))
