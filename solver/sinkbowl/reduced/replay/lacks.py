"""What each equation of the heave model lacks along the flow's own course.

Put into the equations as functions of the inner level, these forces and pressures turn the model's
course into the flow's. Positive: downwards on the bowl, into the bowl through the hole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.drag import drag_force
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.replay.path import POINTS_A_KNOT, Path
from sinkbowl.reduced.waves import wave_damping

OUTSIDE = ("added mass", "drag", "waves")
INSIDE = ("jet reaction", "water aloft")
FORCES, FOOT, LAW = "forces", "water on the hole", "contraction, loss and inertia"
REST = "unsplit"

EDGE = 0.03
"""Share of the course at either end that is left out where shapes are compared: splines fray."""


@dataclass(frozen=True, eq=False)
class Lacks:
    """Lacking forces and pressures against the inner level.

    Attributes
    ----------
    z : (n,) height of the inner level [m], ascending
    forces : (n,) of each cause [N]; they add up to all that the bowl's equation lacks
    pressures : (n,) of each cause [Pa], likewise of the hole's equation
    """

    z: FloatArray
    forces: Mapping[str, FloatArray]
    pressures: Mapping[str, FloatArray]


@dataclass(frozen=True, eq=False)
class _Along:
    """The model's equations at the flow's moments, each (n,)."""

    force: FloatArray
    pressure: FloatArray
    stored: FloatArray
    jet: FloatArray
    foot: FloatArray
    impulse: FloatArray
    drag: FloatArray
    waves: FloatArray


def lacks_of(equations: HeaveEquations, path: Path, readings: set[str]) -> Lacks:
    """What the model lacks along a path.

    Parameters
    ----------
    readings : which of the run's readings may be used; without `inner_momentum` forces are not
        split, without `hole_thrust` and `foot_pressure` jet and water aloft are one
    """
    along, here = _along(equations, path), path.progress
    forces: dict[str, FloatArray] = {}
    if "inner_momentum" in readings:
        inside = _inside(equations, path, along)
        outside = along.force - inside
        if readings >= {"hole_thrust", "foot_pressure"}:
            area = equations.vessel.hole_area
            thrust = path.reading("hole_thrust") - area * path.reading("foot_pressure")
            forces["jet reaction"] = thrust - along.jet
            forces["water aloft"] = inside - forces["jet reaction"]
        else:
            forces["water inside"] = inside
        shapes = (-np.gradient(along.impulse, path.t), -along.drag, -along.waves)
        forces |= dict(zip(OUTSIDE, _by_shape(outside, shapes), strict=True))
        forces[REST] = outside - sum(forces[name] for name in OUTSIDE)
    else:
        forces[REST] = along.force
    pressures = {LAW: along.pressure}
    if "foot_pressure" in readings:
        foot = along.foot - path.reading("foot_pressure")
        pressures = {FOOT: foot, LAW: along.pressure - foot}
    return Lacks(
        path.z[here],
        {name: values[here] for name, values in forces.items()},
        {name: values[here] for name, values in pressures.items()},
    )


def _along(equations: HeaveEquations, path: Path) -> _Along:
    """Evaluate the equations; the jet's momentum J is the model's own for the flow's Q and V."""
    rows = []
    excess, decay, last_source = 0.0, 1.0, 0.0
    for k in range(len(path.t)):
        v, rho, mixing = equations.vessel, equations.density, equations.mixing_time
        draft, speed, z, flow = path.draft[k], path.speed[k], path.z[k], path.flow[k]
        if k:
            # J' = source - J / tau, exactly for a source that does not change in a step.
            decay = float(np.exp(-(path.t[k] - path.t[k - 1]) / mixing))
        loads = equations.loads(np.array([draft, speed, z, flow, 0.0]))
        source = 0.5 * (loads.source + last_source) if k else 0.0
        excess, last_source = excess * decay + source * mixing * (1.0 - decay), loads.source
        loads = equations.loads(np.array([draft, speed, z, flow, excess]))
        inertia, outside = loads.inertia, v.outside(draft)
        outer, area = outside.inertia, outside.area
        depth, section = max(z - v.inner_edge, 0.0), loads.section
        foot = depth * (GRAVITY - path.rise[k] + path.gain[k] / section)
        jet, _ = equations.law.jet(flow, speed, outside.radius)
        rows.append(
            (
                inertia.bowl * path.rise[k] - inertia.coupling * path.gain[k] - loads.force,
                inertia.slug * path.gain[k] - inertia.coupling * path.rise[k] - loads.pressure,
                excess,
                rho * flow * jet,
                rho * foot - loads.returned * v.hole_area / section**2,
                outer.bowl * speed - outer.cross * flow,
                drag_force(outside, v.hole_area, rho, speed),
                wave_damping(outside, rho) * (speed - flow / area),
            )
        )
    return _Along(*np.array(rows, dtype=float).T)


def _inside(equations: HeaveEquations, path: Path, along: _Along) -> FloatArray:
    """Force that the inner water lacks in the model: of its momentum beyond a flat pool's.

    That momentum is rho V_in V - rho Q s - P_inner, P_inner the water's own, downwards.
    """
    rate = path.rate("inner_momentum")
    rho, s = equations.density, path.z - equations.vessel.outer_edge
    surface = np.array([equations.vessel.water_area(z) for z in path.z])
    beyond = rho * (path.flow * path.speed + path.volume * path.rise) + rate
    beyond -= rho * (path.gain * s + path.flow**2 / surface)
    return np.asarray(beyond - np.gradient(along.stored, path.t))


def _by_shape(force: FloatArray, shapes: tuple[FloatArray, ...]) -> list[FloatArray]:
    """The parts of a force that follow the course of given shapes, each (n,).

    Least squares, with the expectation that a term of the model is right within its own size: what
    the data do not tell apart stays small instead of large and opposite.
    """
    matrix = np.array(shapes).T
    cut = max(1, int(EDGE * len(force)))
    inner, target = matrix[cut:-cut], force[cut:-cut]
    best, *_ = np.linalg.lstsq(inner, target, rcond=None)
    left = float(np.mean((target - inner @ best) ** 2)) + 1e-30
    weight = left * POINTS_A_KNOT
    normal = inner.T @ inner + weight * np.eye(len(shapes))
    factors = np.linalg.solve(normal, inner.T @ target)
    return [factor * shape for factor, shape in zip(factors, shapes, strict=True)]
