"""Forces on the bowl over time, by cause, and the discharge coefficient of its hole.

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
from numpy.typing import NDArray

from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.errors import ResultError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.files.result import Result

WINDOWS = 80
"""Time windows of the averages until the rim is under."""


@dataclass(frozen=True, eq=False)
class Forces:
    """Upward forces on the bowl over time [N].

    Attributes
    ----------
    t : (n,) end of each step or window [s]
    dt : (n,) its length [s]
    weight : of bowl and ballast, negative
    lift : (n,) hydrostatic, from the volumes at draft and inner level
    rest : (n,) of the water's motion
    net : (n,) mass times acceleration
    discharge : (n,) hole flow over hole area times Torricelli's speed; nan without head or base
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

    Raises
    ------
    ResultError : the run has fewer than two steps, or its case cannot be read again
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
    case, history = result.case, result.history
    dt = history.get("stride", history["dt"])[rows]
    length = np.add.reduceat(dt, starts)

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(values * dt, starts) / length)

    weight_of_water = case.water.density * GRAVITY
    outside = case.bowl.outer_volume(history["draft"][rows])
    # A thickened wall displaces water on the grid; the solver adds its weight.
    inside_on_grid = history["inner_volume"][rows]
    lift = weight_of_water * (outside - _water_inside(result, rows) + _ring_volume(result, rows))
    parts = ("pressure_force", "buoyancy_correction", "hole_force", "viscous_force")
    pressure = np.sum([history[part][rows] for part in parts], axis=0)
    rising = -np.diff(history["speed"][: rows.stop]) / dt
    flow, ideal = history["hole_flow"][rows], _torricelli_flow(result, rows)
    return Forces(
        t=history["t"][rows][np.append(starts[1:], dt.size) - 1],
        dt=length,
        weight=-case.total_mass * GRAVITY,
        lift=mean(lift),
        rest=mean(pressure - weight_of_water * (outside - inside_on_grid)),
        net=mean(case.total_mass * rising),
        discharge=_quotient(mean(flow), mean(ideal)),
    )


def _water_inside(result: Result, rows: slice) -> FloatArray:
    """Volume below the inner level in the bowl of the case [m^3]."""
    bowl = result.case.bowl
    return bowl.inner_volume(bowl.inner_edge_height + result.history["inner_level"][rows])


def _ring_volume(result: Result, rows: slice) -> FloatArray:
    """Wetted part of the ballast [m^3]."""
    case, history = result.case, result.history
    level = case.bowl.inner_edge_height + history["inner_level"][rows]
    within, beside = case.inner_ballast, case.outer_ballast
    return beside.volumes_below(history["draft"][rows]) + within.volumes_below(level)


def _torricelli_flow(result: Result, rows: slice) -> FloatArray:
    """Hole area times sqrt(2 g head) [m^3/s]; zero without a base."""
    area = 0.0 if result.case.base_gone else result.case.hole.area
    return area * np.sqrt(2.0 * GRAVITY * np.maximum(result.history["head"][rows], 0.0))


def _quotient(flow: FloatArray, ideal: FloatArray) -> FloatArray:
    """Flow over the ideal one, nan if that is zero."""
    known = ideal > 0.0
    return np.where(known, flow / np.where(known, ideal, 1.0), np.nan)
