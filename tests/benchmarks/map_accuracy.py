"""How well the corrected model tells the times of bowls that its fit has not seen.

    python tests/benchmarks/map_accuracy.py

Prints how far the heave model is off on all bowls by hole, load and pace; then a row for the bowls
kept out of the fit and one for all fitted ones, each left out in its turn, by the width of their
holes. The flow's own jet is known, and its runs stand against each other: so of the interval only
what is not known of theory and map counts, and the grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from mapping.fit import known_of
from sinkbowl.common import QUANTILE
from sinkbowl.corrected.flow_map import KEPT_OUT, MEASURED, MapRow, shipped_rows
from sinkbowl.corrected.surface import learnt

KINDS = {
    "hole / rim": (0, (0.0, 0.3, 0.45, 0.6, 0.75, 1.0)),
    "mass / water displaced to the rim": (1, (0.0, 0.15, 0.3, 0.5, 1.0)),
    "sinking time / period": (8, (0.0, 0.4, 0.8, 1.5, 3.0, np.inf)),
}
"""Dimensionless numbers by which the heave model is judged, their place and ends of their bins."""

BINS = ((0.0, 0.25), (0.25, 0.45), (0.45, 0.6), (0.6, 0.75), (0.75, 1.0), (0.0, 1.0))


def main() -> None:
    """Print the tables."""
    known = learnt()
    _heave_alone([row for row in shipped_rows() if row.use in (MEASURED, KEPT_OUT)])
    print(f"surface widened {known.surface.widening:.2f} times")
    print(
        "| bowls | d/D | n | heave off, median / 90 % | corrected off | within 5 % | inside, half |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- |")
    rows = [row for row in shipped_rows() if row.use == KEPT_OUT]
    _table("kept out", rows, np.array([_kept_out(row) for row in rows]))
    rows = [row for row in shipped_rows() if row.use == MEASURED]
    value, deviation = known.surface.left_out()
    off = np.expm1(known.surface.values - value)
    half = QUANTILE * known.surface.widening * deviation
    _table("left out", rows, np.column_stack((off, half)))


def _heave_alone(rows: Sequence[MapRow]) -> None:
    """How far the heave model is off the flow: median and what 90 % stay within."""
    print("| bowls | number | median | 90 % within | mean |")
    print("| --- | --- | --- | --- | --- |")
    off = np.array([known_of(row.bowl).heave_time / row.time - 1.0 for row in rows])
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
    known, bowl = learnt(), known_of(row.bowl)
    told = known.surface.at(bowl.like.x, bowl.like.scale)
    half = QUANTILE * known.surface.widening * np.hypot(told.deviation, known.noise(bowl.like))
    return row.time / (bowl.heave_time * np.exp(told.value)) - 1.0, float(half)


def _table(name: str, rows: Sequence[MapRow], told: np.ndarray) -> None:
    ratio = np.array([row.numbers[0] for row in rows])
    by_heave = np.abs([row.time / known_of(row.bowl).heave_time - 1.0 for row in rows])
    for low, high in BINS:
        here = (ratio >= low) & (ratio < high)
        if not here.any():
            continue
        off, half = np.abs(told[here, 0]), told[here, 1]
        print(
            f"| {name} | {low:g} to {high:g} | {here.sum()} | {_two(by_heave[here])} | {_two(off)} "
            f"| {np.mean(off <= 0.05):.0%} | {np.mean(off <= half):.0%}, {np.median(half):.1%} |"
        )


def _two(off: np.ndarray) -> str:
    return f"{np.median(off):.1%} / {np.quantile(off, 0.9):.1%}"


if __name__ == "__main__":
    main()
