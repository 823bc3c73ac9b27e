"""The design chart as a table: a row a node, with the borders of its column."""

from __future__ import annotations

import math
from importlib.metadata import version
from typing import Any

from sinkbowl.common.table import csv_text
from sinkbowl.design.charting.chart import Chart
from sinkbowl.design.charting.column import shares_of_rows


def rows(chart: Chart) -> list[dict[str, Any]]:
    """Plain numbers in SI units; None where there is none."""
    found = []
    for column in chart.columns:
        low, high = column.span.low, column.span.high
        for share, one in zip(shares_of_rows(), column.chart_points, strict=True):
            found.append(
                {
                    "hole_m": column.hole,
                    f"{chart.kind}_mass_kg": low + float(share) * (high - low),
                    "verdict": one.verdict,
                    "sinking_time_s": _number(one.time),
                    "filling_time_over_heave_period": _number(one.periods),
                    "floats_below_kg": low if column.span.floats_below else None,
                    "under_at_once_above_kg": high if column.span.under_above else None,
                }
            )
    return found


def chart_csv(chart: Chart, comma: bool = False) -> str:
    """The table with a remark on its origin, lengths in mm and masses in g."""
    units = {"m": ("[mm]", 1e3), "kg": ("[g]", 1e3), "s": ("[s]", 1.0)}
    remarks = (
        f"sinkbowl {version('sinkbowl')}: sinkbowl chart CASE; {chart.case.title}",
        f"Time until the rim is under by the {chart.model} model, once the hole has started.",
    )
    table = rows(chart)
    head, scales = [], []
    for name in table[0]:
        what, _, ending = name.rpartition("_")
        unit, scale = units.get(ending, ("", 1.0))
        head.append(f"{what} {unit}" if unit else name)
        scales.append(scale)
    cells = ([*map(_cell, row.values(), scales)] for row in table)
    return csv_text(head, cells, remarks, comma)


def _cell(value: float | str | None, scale: float) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    return f"{value * scale:.6g}"


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
