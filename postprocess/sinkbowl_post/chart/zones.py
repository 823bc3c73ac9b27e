"""Zones of a chart on a raster over its panel, so that names find their place in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.path import Path

from sinkbowl.common.sinking import FloatArray
from sinkbowl.design.charting.chart import SMALL_GROWTH, Chart
from sinkbowl.design.checking import FAST
from sinkbowl.statics.stability import GROWTH_TO_TIP
from sinkbowl_post.chart.places import Mask
from sinkbowl_post.chart.tipping import tipping_areas


@dataclass(frozen=True, eq=False)
class Fields:
    """What a chart shows, on a fine mesh.

    Attributes
    ----------
    holes, shares : (n,) [m], (k,) of the spans
    loads : (n, k) [kg]
    times : (n, k) [s], nan where there is none
    shut, plunging : (n, k) above 0 where the meniscus holds, and where it fills in less than a
        heave period
    leaning : (n, k) above 0 where it leans while it fills, or tips
    tipping : outlines of hole [m] and share, one a cell
    """

    holes: FloatArray
    shares: FloatArray
    loads: FloatArray
    times: FloatArray
    shut: FloatArray
    plunging: FloatArray
    leaning: FloatArray
    tipping: list[FloatArray]


def fields_of(chart: Chart, across: int, up: int) -> Fields:
    """Fields of a chart on a mesh of so many points."""
    holes = np.geomspace(chart.holes[0], chart.holes[-1], across)
    shares = np.linspace(0.0, 1.0, up)
    margins, periods = chart.margins(holes, shares), chart.periods(holes, shares)
    with np.errstate(invalid="ignore"):
        plunging = np.where(np.isnan(periods), 1.0, np.log(FAST / periods))
    return Fields(
        holes=holes,
        shares=shares,
        loads=chart.loads(holes, shares),
        times=chart.times(holes, shares),
        shut=-margins / np.abs(margins).max(),
        plunging=plunging,
        leaning=np.log((chart.growths(holes, shares) + SMALL_GROWTH) / GROWTH_TO_TIP),
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
    for name, field in (
        ("plugged", fields.shut),
        ("plunges", fields.plunging),
        ("leans", fields.leaning),
    ):
        sampled = np.array(
            [
                np.interp(row, fields.shares, field[k])
                for k, row in zip(_nearest(fields.holes, holes), share, strict=True)
            ]
        )
        found[name] = (sampled > 0.0) & between & ~tipping
    found["plunges"] &= ~found["plugged"]
    found["leans"] &= ~found["plugged"] & ~found["plunges"]
    return found


def _nearest(among: FloatArray, wanted: FloatArray) -> FloatArray:
    """Indices of the holes (n,) nearest to those wanted (k,), in the logarithm."""
    apart = np.abs(np.log(wanted)[:, None] - np.log(among))
    return np.asarray(np.argmin(apart, axis=1))
