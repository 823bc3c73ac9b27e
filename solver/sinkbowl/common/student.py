"""Student's t for integer degrees of freedom, without the slow import of scipy.special."""

import math

from sinkbowl.common.constants import LEVEL
from sinkbowl.common.roots import root


def student(freedom: int, chance: float = LEVEL) -> float:
    """Half-width about 0, in standard deviations, that contains a probability of Student's t.

    With t = sqrt(n) tan(a) the probability is a finite sum over the powers of cos(a) (Abramowitz &
    Stegun 26.7.3, 26.7.4; from memory; a test compares it with scipy).
    """
    odd = freedom % 2

    def missing(angle: float) -> float:
        term = math.sin(angle) * (math.cos(angle) if odd else 1.0)
        total = term if freedom > 1 else 0.0
        for k in range(1 + odd, freedom - 2, 2):
            term *= k / (k + 1) * math.cos(angle) ** 2
            total += term
        return (2.0 / math.pi * (angle + total) if odd else total) - chance

    return math.sqrt(freedom) * math.tan(root(missing, 0.0, 0.5 * math.pi, xtol=1e-16))
