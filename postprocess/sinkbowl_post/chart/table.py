"""The design chart as a table: a row a node, with the borders of its column."""

from __future__ import annotations

import csv
import math
from importlib.metadata import version
from io import StringIO
from typing import Any

from sinkbowl.common.plain_text import for_csv_remark
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


def csv_text(chart: Chart) -> str:
    """The table with a remark on its origin, lengths in mm and masses in g."""
    units = {"_m": ("[mm]", 1e3), "_kg": ("[g]", 1e3), "_s": ("[s]", 1.0)}
    text = StringIO()
    origin = f"sinkbowl {version('sinkbowl')}: sinkbowl chart CASE; {chart.case.title}"
    text.write(f"# {for_csv_remark(origin)}\n")
    text.write(
        f"# Time until the rim is under by the {chart.model} model, once the hole has started.\n"
    )
    writer = csv.writer(text, lineterminator="\n")
    table = rows(chart)
    scales = []
    for name in table[0]:
        ending = next((end for end in units if name.endswith(end)), "")
        unit, scale = units.get(ending, ("", 1.0))
        scales.append((f"{name.removesuffix(ending)} {unit}".strip(), scale))
    writer.writerow([heading for heading, _ in scales])
    for row in table:
        cells = zip(row.values(), scales, strict=True)
        writer.writerow([_cell(value, scale) for value, (_, scale) in cells])
    return text.getvalue()


def _cell(value: float | str | None, scale: float) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    return f"{value * scale:.6g}"


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
