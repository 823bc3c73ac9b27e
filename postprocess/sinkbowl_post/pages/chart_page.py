"""Text and table of ``sinkbowl chart``: borders around the bowl, all nodes."""

import math
from importlib.metadata import version
from typing import Any, NamedTuple

import numpy as np

from sinkbowl.common.shown import TextTable, duration, grams, millimetres
from sinkbowl.common.sinking import Best, FloatArray
from sinkbowl.common.text_file import csv_text
from sinkbowl.design.charting.chart import Chart
from sinkbowl.design.charting.column import chart_point_of, load_of, shares_of_rows
from sinkbowl.design.checking import FAST
from sinkbowl.design.sizing.sizing import best_of

FINE = 400  # number of holes in the search for a border


class _Own(NamedTuple):
    """Where the bowl of the case lies on its chart.

    load : of it [kg]; low and high the ends of the span at its hole
    time, best : until its rim is under [s]; None outside the span
    starts_from, falls_from : holes [m] from which a bowl with that load does so, None for no border
    """

    load: float
    low: float
    high: float
    time: float | None
    best: Best | None
    starts_from: float | None
    falls_from: float | None


def _own(chart: Chart) -> _Own:
    case, load = chart.case, load_of(chart.case)
    low, high = chart.span_at(case.hole.diameter)
    time = best = None
    if low < load < high:
        time = _known(chart_point_of(case, chart.model).time)
        best = best_of(case, chart.model)
    return _Own(load, low, high, time, best, *_holes(chart, load))


def chart_figures(chart: Chart) -> dict[str, Any]:
    """The chart as plain numbers: position of the case's bowl, and all nodes."""
    own = _own(chart)
    return {
        "title": chart.case.title,
        "model": chart.model,
        "load": chart.kind,
        "hole_m": chart.case.hole.diameter,
        "load_kg": own.load,
        "sinking_time_s": own.time,
        "best": own.best.as_dict() if own.best else None,
        "floats_below_kg": own.low if chart.floats_below else None,
        "under_at_once_above_kg": own.high if chart.under_above else None,
        "starts_from_hole_m": own.starts_from,
        "falls_freely_from_hole_m": own.falls_from,
        "nodes": rows(chart),
    }


def chart_page(chart: Chart) -> str:
    """The borders around the bowl as a page of text."""
    own = _own(chart)
    what = "ring" if chart.kind == "ballast" else "bowl"
    hole = millimetres(chart.case.hole.diameter, 3)
    takes = "none" if own.time is None else duration(own.time)
    words = [
        ("this bowl", f"{hole} hole, {what} of {grams(own.load, 3)}"),
        ("rim under after", str(own.best) if own.best else takes),
    ]
    if chart.floats_below:
        words.append(("floats below", grams(own.low, 3)))
    if chart.under_above:
        words.append(("goes under at once above", grams(own.high, 3)))
    if own.starts_from is not None:
        words.append(("starts by itself from", millimetres(own.starts_from, 3)))
    if own.falls_from is not None:
        words.append(("falls freely from", millimetres(own.falls_from, 3)))
    return TextTable(words, chart.case.title).text


def _holes(chart: Chart, load: float) -> tuple[float | None, float | None]:
    """Holes [m] from which a bowl with a load [kg] starts by itself, and falls freely.

    None if the chart has no such border.
    """
    holes = np.geomspace(chart.holes[0], chart.holes[-1], FINE)
    low, high = (chart.loads(holes, np.array([share]))[:, 0] for share in (0.0, 1.0))
    share = (load - low) / (high - low)
    there = (share > 0.0) & (share < 1.0)
    margin, periods = (np.diagonal(field(holes, share)) for field in (chart.margins, chart.periods))
    return (
        _first_rise(holes[there], margin[there]),
        _first_rise(holes[there], np.log(FAST / periods[there])),
    )


def _first_rise(holes: FloatArray, field: FloatArray) -> float | None:
    """Place at which a field first increases through 0."""
    rises = np.flatnonzero((field[:-1] < 0.0) & (field[1:] >= 0.0))
    if rises.size == 0:
        return None
    k = int(rises[0])
    return float(holes[k] + field[k] / (field[k] - field[k + 1]) * (holes[k + 1] - holes[k]))


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def rows(chart: Chart) -> list[dict[str, Any]]:
    """Plain numbers in SI units, or None."""
    found = []
    for column in chart.columns:
        low, high = column.span.low, column.span.high
        for share, one in zip(shares_of_rows(), column.chart_points, strict=True):
            found.append(
                {
                    "hole_m": column.hole,
                    f"{chart.kind}_mass_kg": low + float(share) * (high - low),
                    "verdict": one.verdict,
                    "sinking_time_s": _known(one.time),
                    "filling_time_over_heave_period": _known(one.periods),
                    "floats_below_kg": low if column.span.floats_below else None,
                    "under_at_once_above_kg": high if column.span.under_above else None,
                }
            )
    return found


def chart_csv(chart: Chart, comma: bool = False) -> str:
    """The table with a comment on its origin, lengths in mm and masses in g."""
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
