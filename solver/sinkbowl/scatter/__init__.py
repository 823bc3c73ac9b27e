"""Differences between releases of a bowl, by seed and member; the interval of a sinking time.

Releases by hand differ in draft, and the water is never quite still. This is enough for two
sinkings to diverge after their fountains break up.
"""

from dataclasses import dataclass

import numpy as np

DRAFT_SCATTER = 1e-4
"""Standard deviation of the draft of careful releases [m] (common practice, no source: about what
the meniscus hides)."""

WAVE_SCATTER = 1e-4
"""Standard deviation of the height of the residual wave at the bowl [m] (common practice, no
source: about the smallest visible one)."""


@dataclass(frozen=True)
class Disturbance:
    """Deviation of a release from the case.

    draft: additional draft [m]; wave: height at the bowl of a standing wave at rest, the longest
    that fits between bowl and tub [m]; negative: a trough.
    """

    draft: float = 0.0
    wave: float = 0.0


UNDISTURBED = Disturbance()  # the release of the case


def drawn(seed: int, member: int) -> Disturbance:
    """The disturbance of one member of an ensemble, both parts normally distributed.

    It depends only on seed and member: an ensemble contains all smaller ones of its seed.

    seed, member : 0 or more

    Raises ValueError if one of them is negative.
    """
    draft, wave = np.random.default_rng([seed, member]).standard_normal(2)
    return Disturbance(DRAFT_SCATTER * float(draft), WAVE_SCATTER * float(wave))
