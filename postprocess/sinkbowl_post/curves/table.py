"""The reference curves as a CSV table, with where every number comes from."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from importlib.metadata import version
from io import StringIO
from typing import Any

from sinkbowl_post.curves.points import RunPoint


def rows(points: Sequence[RunPoint]) -> list[dict[str, Any]]:
    """One row a run; empty cells where there is no number."""
    return [
        {
            "title": point.title,
            "hole [mm]": f"{1e3 * point.hole:.4g}",
            "hole_ratio [1]": f"{point.hole_ratio:.5f}",
            "mass_ratio [1]": f"{point.mass_ratio:.5f}",
            "sinking_time [s]": f"{point.time:.6g}",
            "sinking_time_uncertainty [s]": _cell(point.uncertainty),
            "dimensionless_time [1]": f"{point.time / point.scale:.6g}",
            **{f"{name} [s]": _cell(time) for name, time in point.models.items()},
            "result": point.path.name,
        }
        for point in points
    ]


def csv_text(points: Sequence[RunPoint]) -> str:
    """The table with a line on its origin; lines that begin with # are remarks."""
    text = StringIO()
    text.write(f"# sinkbowl {version('sinkbowl')}: sinkbowl curves RESULTS -o TABLE.csv\n")
    text.write("# Time until the rim is under, flow solver and reduced models; H the bowl's\n")
    text.write("# height: dimensionless_time = sinking_time sqrt(g / H), hole_ratio = d / D.\n")
    table = rows(points)
    writer = csv.DictWriter(text, list(table[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(table)
    return text.getvalue()


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"
