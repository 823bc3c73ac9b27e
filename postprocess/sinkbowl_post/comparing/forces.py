"""Slide of the forces on the bowl over time, and of the effective discharge coefficient.

The large panel has lift minus weight, the force of the moving water, and their sum, the net force.
Beside it lift and weight, and the discharge coefficient, except for a case without a base.

Upward forces on the bowl, over each step of the run, until the rim is under:

    M a = -M g + rho g (V_out(D) - V_in(z_i) + V_ring) + rest

The second term is Archimedes at the draft D and the inner level z_i with the hole plugged; an outer
ballast ring counts below D, an inner one below z_i. The rest is the force of the moving water by
pressure and, with no-slip walls, friction: rho g a h of an open hole of area a at the head h, the
jet's momentum, added mass, drag, and deviations of the levels. After the rim is under the split has
no meaning.

The net force is the mass times the change of the bowl's speed, which the run stores separately: the
sum of the terms is a check. The solver uses the lift of a ring and of a thickened wall at the start
of the step, here it is that at the end: sums may differ by the change of a step.
"""

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import ResultError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.files.result import Result
from sinkbowl_post.comparing.compare import discharge_coefficient, run_words
from sinkbowl_post.drawing import EndName, note, panel, round_ticks, slide, write_end_names
from sinkbowl_post.style import (
    BRASS_EDGE,
    HAIRLINE,
    INK,
    LINES,
    LineStyle,
    draw_line,
    seconds,
    time_unit,
)

NET = LineStyle("net force =\nmass \u00d7 acceleration", INK, (), 3.5)
SURPLUS = LineStyle("hydrostatic lift\nminus weight", LINES["flow"].colour, (5.0, 1.6), 3.0)
REST = LineStyle(
    "moving water:\nhole and jet,\nadded mass, drag", LINES["heave"].colour, (2.4, 1.4), 3.0
)
LIFT = LineStyle("hydrostatic lift", LINES["flow"].colour, (), 3.0)
WEIGHT = LineStyle("weight", BRASS_EDGE, (5.0, 1.6), 3.0)

LARGE, UPPER, LOWER = (
    (0.085, 0.125, 0.345, 0.665),
    (0.665, 0.525, 0.195, 0.265),
    (0.665, 0.125, 0.195, 0.265),
)
TYPICAL = (1.5, 98.5)
"""Percentiles of the values shown in a panel: a peak at release may be clipped."""

LEAST_FORCE = 0.3  # range of a panel of forces, share of the weight: what is small looks small
LEAST_COEFFICIENT = 0.4  # range of the discharge coefficient's panel, likewise

LEAST_IDEAL = 0.3  # share of the largest Torricelli flow below which there is no coefficient

WINDOWS = 80  # time windows of the averages until the rim is under


@dataclass(frozen=True, eq=False)
class Forces:
    """Upward forces on the bowl over time [N].

    t : (n,) end of each step or window [s]
    dt : (n,) its length [s]
    weight : of bowl and ballast, negative
    lift : (n,) hydrostatic, from the volumes at draft and inner level
    rest : (n,) of the water's motion
    net : (n,) mass times acceleration
    discharge : (n,) hole flow over hole area times Torricelli's speed; nan with little head, or
        without base
    """

    t: FloatArray
    dt: FloatArray
    weight: float
    lift: FloatArray
    rest: FloatArray
    net: FloatArray
    discharge: FloatArray


def mean_forces(result: Result) -> Forces:
    """Forces averaged over time windows, which removes waves.

    Raises ResultError if the run has fewer than two steps, or its case cannot be read again.
    """
    rows = _rows(result)
    t = result.history["t"][rows]
    edges = np.linspace(t[0], t[-1], WINDOWS + 1)[1:-1]
    starts = np.unique(np.searchsorted(t, edges, side="right"))
    return _forces(result, rows, np.union1d([0], starts[starts < len(t)]))


def _rows(result: Result) -> slice:
    """Steps whose start is also a row of the history, until the rim is under."""
    end = result.events.get("rim_under", math.inf)
    steps = int(np.searchsorted(result.history["t"], end, side="right"))
    if steps < 2:
        raise ResultError(
            f"{result.path}: has fewer than two steps before the rim is under ({steps})."
        )
    return slice(1, steps)


def _forces(result: Result, rows: slice, starts: NDArray[np.int64]) -> Forces:
    """Forces averaged over windows starting at some rows."""
    case, bowl, history = result.case, result.case.bowl, result.history
    dt = history.get("stride", history["dt"])[rows]
    length = np.add.reduceat(dt, starts)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(values * dt, starts) / length)

    weight_of_water = case.water.density * GRAVITY
    draft, level = history["draft"][rows], bowl.inner_edge_height + history["inner_level"][rows]
    ring = case.outer_ballast.volumes_below(draft) + case.inner_ballast.volumes_below(level)
    outside = bowl.outer_volume(draft)
    # A thickened wall displaces water on the grid; the solver adds its weight.
    inside_on_grid = history["inner_volume"][rows]
    parts = ("pressure_force", "buoyancy_correction", "hole_force", "viscous_force")
    pressure = np.sum([history[part][rows] for part in parts], axis=0)
    rising = -np.diff(history["speed"][: rows.stop]) / dt
    area = 0.0 if case.base_gone else case.hole.area
    torricelli = area * np.sqrt(2.0 * GRAVITY * np.maximum(history["head"][rows], 0.0))
    flow, ideal = mean(history["hole_flow"][rows]), mean(torricelli)
    least = LEAST_IDEAL * float(np.max(ideal, initial=0.0))
    return Forces(
        t=history["t"][rows][np.append(starts[1:], dt.size) - 1],
        dt=length,
        weight=-case.total_mass * GRAVITY,
        lift=mean(weight_of_water * (outside - bowl.inner_volume(level) + ring)),
        rest=mean(pressure - weight_of_water * (outside - inside_on_grid)),
        net=mean(case.total_mass * rising),
        discharge=np.divide(flow, ideal, np.full(flow.size, np.nan), where=ideal > least),
    )


def forces_figure(result: Result) -> Figure:
    """Draw the forces of a run on one slide; errors as of `mean_forces`."""
    forces = mean_forces(result)
    end = float(forces.t[-1])
    text = f"{_text(result, end)}; means over {seconds(float(np.median(forces.dt)))}"
    with slide(f"Forces: {result.title}", text, result.title) as figure:
        large = panel(figure, LARGE, "upward force on the bowl [N]")
        upper = panel(figure, UPPER, "lift and weight [N]")
        lowest = upper
        panels = {
            large: {SURPLUS: forces.lift + forces.weight, REST: forces.rest, NET: forces.net},
            upper: {LIFT: forces.lift, WEIGHT: np.full(forces.t.size, -forces.weight)},
        }
        if np.isfinite(forces.discharge).any():
            lowest = panel(figure, LOWER, "hole's discharge coefficient")
            panels[lowest] = {LINES["flow"]: forces.discharge}
            upper.tick_params(labelbottom=False)
        for axes, curves in panels.items():
            of_forces = axes in (large, upper)
            least = -LEAST_FORCE * forces.weight if of_forces else LEAST_COEFFICIENT
            _panel(axes, forces, curves, least)
        for axes in (large, lowest):
            axes.set_xlabel(f"time since release [{time_unit(end)[1]}]")
        large.axhline(0.0, color=HAIRLINE, linewidth=2, zorder=0)
    return figure


def _text(result: Result, end: float) -> str:
    area = None if result.case.base_gone else result.case.hole.area
    coefficient = discharge_coefficient(result.sinking(), area) if area else None
    return run_words(result.outcome, result.sinking_time, result.interval, coefficient, end)


def _panel(axes: Axes, forces: Forces, curves: dict[LineStyle, FloatArray], least: float) -> None:
    """Curves of one panel with their names at the right, and the time axis."""
    end = float(forces.t[-1])
    factor, _ = time_unit(end)
    for line, values in curves.items():
        draw_line(axes, forces.t * factor, values, line)
    shown = np.concatenate([values[np.isfinite(values)] for values in curves.values()])
    low, high = np.percentile(shown, TYPICAL)
    room = max(0.12 * (high - low), 0.5 * (least - (high - low)))
    axes.set_ylim(low - room, high + room)
    axes.set_xlim(0, end * factor)
    _name_clipped(axes, forces.t * factor, list(curves.values()))
    round_ticks(axes.xaxis, 4)
    axes.yaxis.set_major_locator(MaxNLocator(5))
    if len(curves) > 1:
        write_end_names(
            axes,
            [EndName(line.name, line.colour, _last(values)) for line, values in curves.items()],
        )


def _name_clipped(axes: Axes, t: FloatArray, curves: list[FloatArray]) -> None:
    """Label clipped peaks of a panel with their value."""
    low, high = axes.get_ylim()
    for edge, peak, up in (
        (low, min(curves, key=np.nanmin), 6),
        (high, max(curves, key=np.nanmax), -6),
    ):
        k = int(np.nanargmin(peak) if edge == low else np.nanargmax(peak))
        value = float(peak[k])
        if low <= value <= high:
            continue
        late = t[k] > 0.5 * axes.get_xlim()[1]
        text = f"{'down' if edge == low else 'up'} to {value:.2g}".replace("-", "\N{MINUS SIGN}")
        note(axes, text, (t[k], edge), (-14 if late else 14, up))


def _last(values: FloatArray) -> float:
    """End of a curve, averaged over its last waves."""
    return float(np.mean(values[-max(1, values.size // 20) :]))
