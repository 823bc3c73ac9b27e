"""Zones of a chart on a raster over its panel, for their labels.

Areas of tipping are known from yes or no at every node and the transitions between nodes: in each
cell of the mesh the corners with yes and the transitions on the edges form the outline of its part.
"""

from dataclasses import dataclass

import numpy as np
from matplotlib.path import Path

from sinkbowl.common.sinking import FloatArray
from sinkbowl.design.charting.chart import SMALL_GROWTH, Chart
from sinkbowl.design.charting.column import shares_of_rows
from sinkbowl.design.checking import FAST
from sinkbowl.statics.stability import GROWTH_TO_TIP
from sinkbowl_post.chart.names import Mask


@dataclass(frozen=True, eq=False)
class Fields:
    """Fields of a chart on a fine mesh.

    holes, shares : (n,) [m], (k,) of the spans
    loads : (n, k) [kg]
    times : (n, k) [s], nan if there is none
    shut, falls_freely : (n, k) above 0 where the meniscus holds, and where it fills in less than a
        heave period
    heeling : (n, k) above 0 where it heels while it fills, or tips
    tipping : outlines of hole [m] and share, one per cell
    """

    holes: FloatArray
    shares: FloatArray
    loads: FloatArray
    times: FloatArray
    shut: FloatArray
    falls_freely: FloatArray
    heeling: FloatArray
    tipping: list[FloatArray]


def fields_of(chart: Chart, across: int, up: int) -> Fields:
    """Fields of a chart on a mesh of a size."""
    holes = np.geomspace(chart.holes[0], chart.holes[-1], across)
    shares = np.linspace(0.0, 1.0, up)
    margins, periods = chart.margins(holes, shares), chart.periods(holes, shares)
    with np.errstate(invalid="ignore"):
        falls_freely = np.where(np.isnan(periods), 1.0, np.log(FAST / periods))
    return Fields(
        holes=holes,
        shares=shares,
        loads=chart.loads(holes, shares),
        times=chart.times(holes, shares),
        shut=-margins / np.abs(margins).max(),
        falls_freely=falls_freely,
        heeling=np.log((chart.growths(holes, shares) + SMALL_GROWTH) / GROWTH_TO_TIP),
        tipping=tipping_areas(chart),
    )


def rasters(chart: Chart, fields: Fields, holes: FloatArray, loads: FloatArray) -> dict[str, Mask]:
    """Zones by name, each (n, k), at holes (n,) [m] and loads (k,) [kg]."""
    low, high = (chart.loads(holes, np.array([share]))[:, 0] for share in (0.0, 1.0))
    share = (loads - low[:, None]) / (high - low)[:, None]
    between = (share >= 0.0) & (share <= 1.0)
    points = np.column_stack([np.repeat(np.log(holes), loads.size), share.ravel()])
    tips = np.zeros(share.size, dtype=bool)
    for outline in fields.tipping:
        corners = np.column_stack([np.log(outline[:, 0]), outline[:, 1]])
        tips |= Path(corners).contains_points(points)
    tipping = tips.reshape(share.shape) & between
    found = {"floats": share < 0.0, "under": share > 1.0, "tips": tipping}
    apart = np.abs(np.log(holes)[:, None] - np.log(fields.holes))
    near = list(zip(np.argmin(apart, axis=1), share, strict=True))
    for name, field in (
        ("plugged", fields.shut),
        ("falls freely", fields.falls_freely),
        ("heels", fields.heeling),
    ):
        sampled = np.array([np.interp(row, fields.shares, field[k]) for k, row in near])
        found[name] = (sampled > 0.0) & between & ~tipping
    found["falls freely"] &= ~found["plugged"]
    found["heels"] &= ~found["plugged"] & ~found["falls freely"]
    return found


def tipping_areas(chart: Chart) -> list[FloatArray]:
    """Outlines (n, 2) of hole [m] and share of its span, one per cell with tipping.

    The outermost rows extend to the ends of the spans.
    """
    tips = chart.field("tips") > 0.5
    along = np.array([column.crossings for column in chart.columns])
    shares = np.array([0.0, *shares_of_rows()[1:-1], 1.0])
    nodes = np.stack(np.meshgrid(np.log(chart.holes), shares, indexing="ij"), axis=2)
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
            outline = []
            for c, (a, share) in enumerate(zip(corners, between, strict=True)):
                b = corners[(c + 1) % 4]
                if tips[a]:
                    outline.append(nodes[a])
                if tips[a] != tips[b]:
                    outline.append(nodes[a] + share * (nodes[b] - nodes[a]))
            if outline:
                at, share = np.transpose(outline)
                areas.append(np.column_stack((np.exp(at), share)))
    return areas
