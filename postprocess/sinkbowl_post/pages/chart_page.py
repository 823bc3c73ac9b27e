"""What ``sinkbowl chart`` prints and writes: the borders around the bowl, all nodes as a table."""

from __future__ import annotations

import math
from importlib.metadata import version
from typing import Any

import numpy as np

from sinkbowl.common.shown import TextTable, duration, grams, millimetres, seconds_with
from sinkbowl.common.sinking import FloatArray
from sinkbowl.common.table import csv_text
from sinkbowl.design.charting.chart import Chart
from sinkbowl.design.charting.column import best_of, chart_point_of, load_of, shares_of_rows
from sinkbowl.design.checking import FAST

FINE = 400
"""Holes among which a border is looked for, before it is interpolated."""


def chart_figures(chart: Chart) -> dict[str, Any]:
    """The chart as plain numbers: where the bowl of the case lies, and all nodes."""
    case = chart.case
    low, high = chart.span_at(case.hole.diameter)
    load = load_of(case)
    inside = low < load < high
    best = best_of(case, chart.model) if inside else None
    opens, freely = _holes(chart, load)
    return {
        "title": case.title,
        "model": chart.model,
        "load": chart.kind,
        "hole_m": case.hole.diameter,
        "load_kg": load,
        "sinking_time_s": _known(chart_point_of(case, chart.model).time) if inside else None,
        "best": best.as_dict() if best else None,
        "floats_below_kg": low if chart.floats_below else None,
        "under_at_once_above_kg": high if chart.under_above else None,
        "starts_from_hole_m": opens,
        "falls_freely_from_hole_m": freely,
        "nodes": rows(chart),
    }


def chart_page(figures: dict[str, Any]) -> str:
    """Set the figures as a page of text."""
    what = "ring" if figures["load"] == "ballast" else "bowl"
    time, best = figures["sinking_time_s"], figures["best"]
    takes = "none" if time is None else duration(time)
    if best is not None:
        takes = seconds_with(best["time_s"], best["interval_s"][1] - best["time_s"])
    told = [
        ("this bowl", f"{_mm(figures['hole_m'])} hole, {what} of {_g(figures['load_kg'])}"),
        ("rim under after", takes),
        ("floats below", _g(figures["floats_below_kg"])),
        ("goes under at once above", _g(figures["under_at_once_above_kg"])),
        ("starts by itself from", _mm(figures["starts_from_hole_m"])),
        ("falls freely from", _mm(figures["falls_freely_from_hole_m"])),
    ]
    return TextTable([row for row in told if row[1]], figures["title"]).text


def _holes(chart: Chart, load: float) -> tuple[float | None, float | None]:
    """Holes [m] from which a bowl with a load [kg] starts by itself and from which it falls freely.

    None where the chart has no such border.
    """
    holes = np.geomspace(chart.holes[0], chart.holes[-1], FINE)
    low, high = (chart.loads(holes, np.array([share]))[:, 0] for share in (0.0, 1.0))
    share = (load - low) / (high - low)
    there = (share > 0.0) & (share < 1.0)
    margin = np.array(
        [chart.margins(holes[k : k + 1], share[k : k + 1])[0, 0] for k in range(FINE)]
    )
    periods = np.array(
        [chart.periods(holes[k : k + 1], share[k : k + 1])[0, 0] for k in range(FINE)]
    )
    return (
        _first_rise(holes[there], margin[there]),
        _first_rise(holes[there], np.log(FAST / periods[there])),
    )


def _first_rise(holes: FloatArray, field: FloatArray) -> float | None:
    """Where a field first passes from below 0 to above it."""
    rises = np.flatnonzero((field[:-1] < 0.0) & (field[1:] >= 0.0))
    if rises.size == 0:
        return None
    k = int(rises[0])
    return float(holes[k] + field[k] / (field[k] - field[k + 1]) * (holes[k + 1] - holes[k]))


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _mm(length: float | None) -> str:
    return "" if length is None else millimetres(length, 3)


def _g(mass: float | None) -> str:
    return "" if mass is None else grams(mass, 3)


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
        f"Time until the rim is under by the {chart.model} model, after the flow has started.",
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
