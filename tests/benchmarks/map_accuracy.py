"""How well the corrected model tells the times of bowls that its fit has not seen.

    python tests/benchmarks/map_accuracy.py

Prints how far the heave model is off on all bowls by hole, load and pace; then, for the corrected
model, a row for the bowls kept out of the fit and one for all fitted ones, each left out in its
turn, by the width of their holes.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from sinkbowl.before.budget.variation import meniscus_aside
from sinkbowl.common.confidence import QUANTILE
from sinkbowl.corrected.correction import correction
from sinkbowl.corrected.flow_map import KEPT_OUT, MEASURED, THEORY, MapRow, flow_map
from sinkbowl.mapping.release import as_the_flow_sees_it
from sinkbowl.reduced import heave

KINDS = {
    "hole / rim": (0, (0.0, 0.3, 0.45, 0.6, 0.75, 1.0)),
    "mass / water displaced to the rim": (1, (0.0, 0.15, 0.3, 0.5, 1.0)),
    "sinking time / period": (8, (0.0, 0.4, 0.8, 1.5, 3.0, np.inf)),
}
"""Dimensionless numbers by which the heave model is judged, their place and ends of their bins."""

BINS = ((0.0, 0.3), (0.3, 0.45), (0.45, 0.6), (0.6, 0.75), (0.75, 1.0), (0.0, 1.0))


def main() -> None:
    """Print the tables."""
    flow = flow_map()
    counts = {use: sum(r.use == use for r in flow.rows) for use in (MEASURED, KEPT_OUT, THEORY)}
    print(counts, f"surface widened {flow.widening:.2f} times")
    _heave_alone([row for row in flow.rows if row.use != THEORY])
    print("| bowls | d/D | number | heave off, median | corrected off, median | 95 % | inside |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    rows = [row for row in flow.rows if row.use == KEPT_OUT]
    told = np.array([_kept_out(row) for row in rows])
    _table("kept out", rows, told)
    known = [row for row in flow.rows if row.use in (MEASURED, THEORY)]
    value, deviation = flow.time.left_out()
    off = np.expm1(flow.time.values - value)
    told = np.column_stack((off, QUANTILE * flow.widening * deviation))
    fitted = np.array([row.use == MEASURED for row in known])
    _table("left out", [row for row in known if row.use == MEASURED], told[fitted])


def _heave_alone(rows: Sequence[MapRow]) -> None:
    """How far the heave model is off the flow: median and what 90 % stay within."""
    print("| bowls | number | median | 90 % within | mean |")
    print("| --- | --- | --- | --- | --- |")
    off = np.array([row.heave_time / row.time - 1.0 for row in rows])
    numbers = np.array([row.numbers for row in rows])
    numbers[:, 8] = 0.5 * np.sinh(numbers[:, 8])
    groups = {"all": np.full(len(rows), True)}
    groups["kept out"] = np.array([row.use == KEPT_OUT for row in rows])
    for name, (place, ends) in KINDS.items():
        for low, high in pairwise(ends):
            here = (numbers[:, place] >= low) & (numbers[:, place] < high)
            groups[f"{name} {low:g} to {high:g}"] = here
    for name, here in groups.items():
        size = np.abs(off[here])
        print(
            f"| {name} | {here.sum()} | {np.median(size):.1%} | {np.quantile(size, 0.9):.1%} "
            f"| {off[here].mean():+.1%} |"
        )


def _kept_out(row: MapRow) -> tuple[float, float]:
    """How far the flow is off the corrected time, and half of the interval; shares."""
    case = meniscus_aside(as_the_flow_sees_it(row.bowl.case()))
    by_heave = heave.solve(case, quick=True)
    found = correction(case, by_heave)
    time = found.factor * float(by_heave.sinking_time or np.nan)
    return row.time / time - 1.0, found.half


def _table(name: str, rows: Sequence[MapRow], told: np.ndarray) -> None:
    ratio = np.array([row.numbers[0] for row in rows])
    by_heave = np.abs(np.expm1([row.log_factor for row in rows]))
    for low, high in BINS:
        here = (ratio >= low) & (ratio < high)
        if not here.any():
            continue
        off, half = np.abs(told[here, 0]), told[here, 1]
        print(
            f"| {name} | {low:g} to {high:g} | {here.sum()} | {np.median(by_heave[here]):.1%} "
            f"| {np.median(off):.1%} | {np.quantile(off, 0.95):.1%} | {np.mean(off <= half):.0%} |"
        )


if __name__ == "__main__":
    main()
