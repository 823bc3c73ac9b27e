"""Areas of a chart in which a bowl tips, from a yes or no at every node and places in between.

Cell by cell of the nodes' mesh: round its corners, those that say yes, and the places on its edges
at which yes turns into no, are the outline of its share.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.common.sinking import FloatArray
from sinkbowl.design.charting.chart import Chart
from sinkbowl.design.charting.column import shares_of_rows

Point = tuple[float, float]


def tipping_areas(chart: Chart) -> list[FloatArray]:
    """Outlines (n, 2) of hole [m] and share of its span, one a cell that tips somewhere.

    The outermost rows go on to the ends of the spans.
    """
    tips = chart.field("tips") > 0.5
    along = np.array([column.crossings for column in chart.columns])
    x, rows = np.log(chart.holes), shares_of_rows()
    areas = []
    for k in range(tips.shape[0] - 1):
        for j in range(tips.shape[1] - 1):
            corners = [(k, j), (k + 1, j), (k + 1, j + 1), (k, j + 1)]
            between = [
                chart.row_crossings[k, j],
                along[k + 1, j],
                1.0 - chart.row_crossings[k, j + 1],
                1.0 - along[k, j],
            ]
            outline: list[Point] = []
            for c, (a, share) in enumerate(zip(corners, between, strict=True)):
                b = corners[(c + 1) % 4]
                start, end = _place(a, x, rows), _place(b, x, rows)
                if tips[a]:
                    outline.append(start)
                if tips[a] != tips[b]:
                    outline.append(_along(start, end, float(share)))
            if outline:
                areas.append(np.array([(np.exp(at), share) for at, share in outline]))
    return areas


def _place(node: tuple[int, int], x: FloatArray, rows: FloatArray) -> Point:
    """Logarithm of the hole and share of a node; the outermost rows at the ends of the span."""
    k, j = node
    share = 0.0 if j == 0 else 1.0 if j == len(rows) - 1 else float(rows[j])
    return float(x[k]), share


def _along(start: Point, end: Point, share: float) -> Point:
    return (
        start[0] + share * (end[0] - start[0]),
        start[1] + share * (end[1] - start[1]),
    )
