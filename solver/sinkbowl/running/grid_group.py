"""Comparison of several grids, and its group in a result file.

With several members per grid, means are compared: single runs differ by more than the grids.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import h5py
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.sinking import Sinking
from sinkbowl.files.empty_result import describe
from sinkbowl.files.record import table_of
from sinkbowl.running.convergence import LEAST_ORDER, Convergence, convergence, index

Array = NDArray[np.float64]

POINTS = 101
"""Times at which the curves of the grids are compared."""

LEVEL_DATASETS = table_of("""
levels/cell | level | m | cell size of the fine cells, finest grid first
levels/sinking_time | level | s | time until the rim was under, mean of the members; nan: one did
    not go under
levels/member_time | level member | s | time until the rim was under; nan: it did not go under
levels/t | point | s | times at which the curves of the grids are compared
levels/draft | level point | m | draft on each grid, mean of the members
levels/inner_volume | level point | m^3 | water inside the bowl on each grid, mean of the members
levels/draft_uncertainty | point | m | numerical uncertainty of the draft, 95 %
levels/inner_volume_uncertainty | point | m^3 | numerical uncertainty of the water inside the
    bowl, 95 %
""")


def judge(
    cells: Sequence[float],
    times: Sequence[float | None],
    unsure: Sequence[float] = (),
) -> tuple[Convergence | None, str]:
    """Convergence of the sinking time, and a warning or an empty text.

    Parameters
    ----------
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


def store_levels(
    file: h5py.File,
    cells: Sequence[float],
    curves: Sequence[Sequence[Sinking]],
    verdict: Convergence | None,
    warning: str,
) -> None:
    """Add the group `levels` and root attributes to the finest run's file.

    Parameters
    ----------
    curves : of the members of each grid, finest first
    """
    arrays = compared_curves(cells, curves, verdict)
    for entry in LEVEL_DATASETS:
        describe(file.create_dataset(entry.name, data=arrays[entry.column]), entry)
    file["levels"].attrs.update(
        {
            "kind": verdict.kind if verdict else "",
            "observed_order": verdict.order if verdict else np.nan,
            "gci_s": verdict.uncertainty if verdict else np.nan,
        }
    )
    file.attrs["sinking_time_uncertainty_s"] = verdict.uncertainty if verdict else np.nan
    file.attrs["levels_warning"] = warning
    file.attrs["grids"] = len(cells)


def compared_curves(
    cells: Sequence[float], curves: Sequence[Sequence[Sinking]], verdict: Convergence | None
) -> dict[str, Array]:
    """Arrays of `LEVEL_DATASETS`.

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
        values = np.array([_mean_curve(t, grid, name) for grid in curves])
        arrays[name] = values
        arrays[f"{name}_uncertainty"] = np.array(
            [_pointwise(cells, column, order) for column in values.T]
        )
    return arrays


def _mean_curve(t: Array, members: Sequence[Sinking], name: str) -> Array:
    """Mean of a column over members at some times."""
    curves = [np.interp(t, curve.t, getattr(curve, name)) for curve in members]
    return np.asarray(np.mean(curves, axis=0))


def _pointwise(cells: Sequence[float], values: Array, order: float) -> float:
    """Index of a point of a curve: the larger of those from the second and the third grid."""
    return max(index(float(values[k] - values[0]), cells[k] / cells[0], order) for k in (1, 2))
