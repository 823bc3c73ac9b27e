"""By how much two releases of one bowl differ, drawn by seed and member.

No two releases by hand are alike: the bowl is let go a little too deep or too shallow, and the
water is never quite still. It is enough to part two sinkings once their fountains break up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

DRAFT_SCATTER = 1e-4
"""Standard deviation of the draft at which a careful hand lets go [m] (common practice, no source:
about what the meniscus hides)."""

WAVE_SCATTER = 1e-4
"""Standard deviation of the height at the bowl of the wave that is left on the water [m] (common
practice, no source: about the least that one sees glitter)."""


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
