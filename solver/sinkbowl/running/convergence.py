"""Error of the finest of several grids: the grid convergence index.

With values f1, f2, f3 on cells h1 < h2 < h3, ratios r21 = h2 / h1 and r32 = h3 / h2, the observed
order p solves (Celik et al. 2008, J. Fluids Eng. 130, 078001)

    p ln r21 = ln(e32 / e21) - ln((r32^p - 1) / (r21^p - 1)),

with e21 = f2 - f1 and e32 = f3 - f2, if both differences have the same sign. The uncertainty of f1
at about 95 % is the grid convergence index

    U = 1.25 |e21| / (r21^p - 1)

(Roache 1994, J. Fluids Eng. 116, 405, and "Verification and Validation", 1998; 1.25 for three
grids and a procedure as in ASME V&V 20-2009), with p limited to LEAST_ORDER and the order of the
scheme. If the values do not approach a limit from one side, there is no reliable order, and U is 3
times their range (Eca & Hoekstra 2014, J. Comput. Phys. 262, 104). All from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from scipy.optimize import brentq

SAFETY = 1.25
"""Factor of safety for three grids that converge from one side."""

SAFETY_OF_RANGE = 3.0
"""Factor on the range of values that do not."""

LEAST_ORDER, SCHEME_ORDER = 0.5, 2.0
"""Bounds of the order that enters the index."""

WIDEST = 30.0
"""Orders are searched between minus and plus this."""

SAME = 1e-12
"""Relative difference below which two values are one."""


@dataclass(frozen=True)
class Convergence:
    """Verdict on the finest value of a sequence.

    kind: "monotone", "oscillating" or "diverging"; order: observed, before it is bounded, nan if
    undefined; uncertainty: U, in the values' unit; warning: in words, or empty.
    """

    kind: str
    order: float
    uncertainty: float
    warning: str

    @property
    def bounded_order(self) -> float:
        """Order in the index; the lowest one if none was observed."""
        return LEAST_ORDER if math.isnan(self.order) else _bounded(self.order)


def convergence(cells: Sequence[float], values: Sequence[float]) -> Convergence:
    """Convergence of the three finest values of a sequence of grids.

    Parameters
    ----------
    cells : three or more sizes, finest first, ascending [m]
    values : result on each

    Raises
    ------
    ValueError : fewer than three grids, or sizes that do not increase
    """
    if len(cells) < 3 or len(cells) != len(values):
        raise ValueError("three or more grids are needed, each with a value")
    if not all(a < b for a, b in pairwise(cells)):
        raise ValueError("the cell sizes must increase")
    r21, r32 = cells[1] / cells[0], cells[2] / cells[1]
    e21, e32 = values[1] - values[0], values[2] - values[1]
    spread = max(values[:3]) - min(values[:3])
    if spread <= SAME * max(abs(value) for value in values[:3]):
        return Convergence("monotone", math.nan, 0.0, "")
    if e21 * e32 <= 0.0:
        told = "the values of the three finest grids oscillate: no order can be observed"
        return Convergence("oscillating", math.nan, SAFETY_OF_RANGE * spread, told)
    order = observed_order(e21, e32, r21, r32)
    if not order > 0.0:
        told = "the values of the three finest grids diverge: finer grids are needed"
        return Convergence("diverging", order, SAFETY_OF_RANGE * spread, told)
    return _index(order, e21, r21)


def _index(order: float, e21: float, r21: float) -> Convergence:
    """The grid convergence index of values that approach a limit from one side."""
    told = ""
    if order < LEAST_ORDER:
        told = f"the observed order {order:.2g} is low: the grids may be too coarse"
    return Convergence("monotone", order, index(e21, r21, _bounded(order)), told)


def _bounded(order: float) -> float:
    """An observed order limited to the range of the index."""
    return min(max(order, LEAST_ORDER), SCHEME_ORDER)


def index(difference: float, ratio: float, order: float) -> float:
    """Grid convergence index from the difference of two grids [unit of the difference]."""
    return float(SAFETY * abs(difference) / (ratio**order - 1.0))


def observed_order(e21: float, e32: float, r21: float, r32: float) -> float:
    """Order p of the module's equation for differences of the same sign.

    Negative or 0 if the differences do not decrease with the cells.
    """

    def excess(p: float) -> float:
        """Increases with p."""
        fine, coarse = math.log(r21), math.log(r32)
        share = math.expm1(p * coarse) / math.expm1(p * fine) if p != 0.0 else coarse / fine
        return p * fine + math.log(share) - math.log(e32 / e21)

    if excess(-WIDEST) >= 0.0:
        return -WIDEST
    if excess(WIDEST) <= 0.0:
        return WIDEST
    return float(brentq(excess, -WIDEST, WIDEST, xtol=1e-10))
