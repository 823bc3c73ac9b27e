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

The group `grids` of a result file holds the comparison. With several members per grid, means are
compared: single runs differ by more than the grids.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import h5py
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from sinkbowl.common.sinking import Sinking
from sinkbowl.files.record import describe, table_of

Array = NDArray[np.float64]
Difference = TypeVar("Difference", float, Array)

SAFETY = 1.25  # factor of safety for three grids that converge from one side
SAFETY_OF_RANGE = 3.0  # factor on the range of values that do not
LEAST_ORDER, SCHEME_ORDER = 0.5, 2.0  # bounds of the order that enters the index
WIDEST = 30.0  # orders are searched between minus and plus this
SAME = 1e-12  # relative difference below which two values are one


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

    cells : three or more sizes, finest first, ascending [m]
    values : result on each

    Raises ValueError for fewer than three grids, or sizes that do not increase.
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
        phrase = "the values of the three finest grids oscillate: no order can be observed"
        return Convergence("oscillating", math.nan, SAFETY_OF_RANGE * spread, phrase)
    order = observed_order(e21, e32, r21, r32)
    if not order > 0.0:
        phrase = "the values of the three finest grids diverge: finer grids are needed"
        return Convergence("diverging", order, SAFETY_OF_RANGE * spread, phrase)
    phrase = ""
    if order < LEAST_ORDER:
        phrase = f"the observed order {order:.2g} is low: the grids may be too coarse"
    return Convergence("monotone", order, index(e21, r21, _bounded(order)), phrase)


def _bounded(order: float) -> float:
    """An observed order limited to the range of the index."""
    return min(max(order, LEAST_ORDER), SCHEME_ORDER)


def index(difference: Difference, ratio: float, order: float) -> Difference:
    """Grid convergence index from the difference of two grids [unit of the difference]."""
    gap: float = ratio**order - 1.0
    return SAFETY * abs(difference) / gap


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


POINTS = 101  # times at which the curves of the grids are compared

GRID_DATASETS = table_of("""
grids/cell | grid | m | cell size of the fine cells, finest grid first
grids/sinking_time | grid | s | time until the rim was under, mean of the members; nan: one did
    not go under
grids/member_time | grid member | s | time until the rim was under; nan: it did not go under
grids/t | point | s | times at which the curves of the grids are compared
grids/draft | grid point | m | draft on each grid, mean of the members
grids/inner_volume | grid point | m^3 | water inside the bowl on each grid, mean of the members
grids/draft_uncertainty | point | m | numerical uncertainty of the draft, 95 %
grids/inner_volume_uncertainty | point | m^3 | numerical uncertainty of the water inside the
    bowl, 95 %
""")


def judge(
    cells: Sequence[float], times: Sequence[float | None], unsure: Sequence[float] = ()
) -> tuple[Convergence | None, str]:
    """Convergence of the sinking time, and a warning or an empty text.

    cells : of three or more grids, finest first [m]
    times : sinking time on each, the mean of its members [s]
    unsure : uncertainty of each mean, nan for a single run [s]
    """
    known = [time for time in times[:3] if time is not None]
    if len(known) < 3:
        sunk = "on none" if not known else "only on some"
        return None, f"the rim passes under {sunk} of the three finest grids"
    verdict = convergence(cells[:3], known)
    warnings = [verdict.warning] if verdict.warning else []
    if unsure and abs(known[1] - known[0]) < math.hypot(*unsure[:2]):
        warnings.append(
            "the two finest grids differ by no more than the scatter of their means: use more "
            "members"
        )
    return verdict, "; ".join(warnings)


def store_grids(
    file: h5py.File,
    cells: Sequence[float],
    curves: Sequence[Sequence[Sinking]],
    verdict: Convergence | None,
    warning: str,
) -> None:
    """Add the group `grids` and root attributes to the finest run's file.

    curves : of the members of each grid, finest first
    """
    arrays = compared_curves(cells, curves, verdict)
    for entry in GRID_DATASETS:
        describe(file.create_dataset(entry.name, data=arrays[entry.column]), entry)
    file["grids"].attrs.update(
        {
            "kind": verdict.kind if verdict else "",
            "observed_order": verdict.order if verdict else np.nan,
            "gci_s": verdict.uncertainty if verdict else np.nan,
        }
    )
    file.attrs["sinking_time_uncertainty_s"] = verdict.uncertainty if verdict else np.nan
    file.attrs["grids_warning"] = warning
    file.attrs["grids"] = len(cells)


def compared_curves(
    cells: Sequence[float], curves: Sequence[Sequence[Sinking]], verdict: Convergence | None
) -> dict[str, Array]:
    """Arrays of `GRID_DATASETS`.

    Curves are compared up to the earliest end of any member. Their uncertainty is the index with
    the order of the sinking time (0.5 if there is none), from the second or the third grid,
    whichever is larger: single points of two curves may coincide by chance.
    """
    ends = [curve.sinking_time or float(curve.t[-1]) for grid in curves for curve in grid]
    times = np.array([[c.sinking_time or np.nan for c in grid] for grid in curves], dtype=float)
    t = np.linspace(0.0, min(ends), POINTS)
    order = verdict.bounded_order if verdict else LEAST_ORDER
    arrays = {
        "cell": np.array(cells),
        "sinking_time": times.mean(axis=1),
        "member_time": times,
        "t": t,
    }
    for name in ("draft", "inner_volume"):
        at_t = [[np.interp(t, curve.t, getattr(curve, name)) for curve in grid] for grid in curves]
        arrays[name] = np.mean(at_t, axis=1)
        finest, *others = arrays[name]
        arrays[f"{name}_uncertainty"] = np.maximum(
            *(index(others[k] - finest, cells[k + 1] / cells[0], order) for k in (0, 1))
        )
    return arrays
