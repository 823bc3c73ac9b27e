"""Residuals of the heave model's equations along a flow run.

Added to the equations as functions of the inner level, these forces and pressures make the model
follow the flow. Positive: downwards on the bowl, into the bowl through the hole.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.attribution.flow_course import POINTS_A_KNOT, FlowCourse
from sinkbowl.reduced.kernels.bowl import Bowl
from sinkbowl.reduced.kernels.heave import (
    ALOFT,
    BACK,
    BY_FLOW,
    BY_SPEED,
    DRAG_FORCE,
    FORCE,
    FORCE_DOWN,
    JET,
    LEAVES,
    M_BOWL,
    M_CROSS,
    M_HOLE,
    M_OUTER,
    ON_BOWL,
    ON_HOLE,
    POOL,
    PRESSURE,
    RISE,
    SHARE,
    STATE,
    TERMS,
    WAVE_FORCE,
)
from sinkbowl.reduced.legs import terms_along
from sinkbowl.reduced.tables import Tables

OUTSIDE = ("added mass", "drag", "waves")
INSIDE = ("jet reaction", "water aloft")
POCKET, POCKET_FORCE = "closed-off air", "pocket_force"
"""Name of the cause, and the column of its force on the bowl [N], upwards."""

BOILING, RUN_IN, LAW = "boil over the hole", "water run in", "contraction, loss and inertia"
REST = "unsplit"

EDGE = 0.03  # share of the course left out at either end of a fit: splines are inaccurate there


@dataclass(frozen=True, eq=False)
class Residuals:
    """Missing forces and pressures against the inner level.

    z : (n,) height of the inner level [m], ascending
    forces : (n,) of each cause [N]; they add up to the residual of the bowl's equation
    pressures : (n,) of each cause [Pa], likewise for the hole's equation
    """

    z: FloatArray
    forces: Mapping[str, FloatArray]
    pressures: Mapping[str, FloatArray]


def residuals_of(tables: Tables, path: FlowCourse) -> Residuals:
    """The model's residuals along a course.

    Without the reading `inner_momentum` forces are not split, without `hole_thrust` and
    `foot_pressure` jet and water aloft are one.
    """
    bowl, here, readings = tables.bowl, path.progress, path.readings
    course = np.zeros((len(path.t), STATE))
    course[:, :4] = np.column_stack((path.draft, path.speed, path.volume, path.flow))
    terms = terms_along(bowl, path.t, course).T
    total = terms[M_BOWL] * path.rise - terms[ON_BOWL] * path.gain - terms[FORCE]
    pressure = terms[M_HOLE] * path.gain - terms[ON_HOLE] * path.rise - terms[PRESSURE]
    forces: dict[str, FloatArray] = {}
    if "inner_momentum" in readings:
        inside = _inside(bowl, path, terms)
        outside = total - inside
        rest = inside
        if POCKET_FORCE in readings:
            forces[POCKET] = -path.reading(POCKET_FORCE)
            rest = rest - forces[POCKET]
        if readings >= {"hole_thrust", "foot_pressure"}:
            thrust = path.reading("hole_thrust") - bowl.hole_area * path.reading("foot_pressure")
            forces["jet reaction"] = thrust - bowl.density * path.flow * terms[JET]
            forces["water aloft"] = rest - forces["jet reaction"]
        else:
            forces["water inside"] = rest
        impulse = terms[M_OUTER] * path.speed - terms[M_CROSS] * path.flow
        shapes = (-np.gradient(impulse, path.t), -terms[DRAG_FORCE], -terms[WAVE_FORCE])
        forces |= dict(zip(OUTSIDE, _by_shape(outside, shapes), strict=True))
        forces[REST] = outside - sum(forces[name] for name in OUTSIDE)
    else:
        forces[REST] = total
    pressures = {LAW: pressure}
    if "foot_pressure" in readings:
        back = terms[BACK] - terms[BY_SPEED] * path.rise + terms[BY_FLOW] * path.gain
        foot = back - path.reading("foot_pressure")
        run_in = terms[SHARE] * foot
        pressures = {BOILING: foot - run_in, RUN_IN: run_in, LAW: pressure - foot}
    return Residuals(
        path.z[here],
        {name: values[here] for name, values in forces.items()},
        {name: values[here] for name, values in pressures.items()},
    )


def _inside(bowl: Bowl, path: FlowCourse, terms: FloatArray) -> FloatArray:
    """Residual force of the inner water, downwards, from its momentum.

    The model's momentum relative to the bowl, of pool and of water aloft, grows by the momentum of
    the jet and of landing water, and falls by the weight aloft.
    """
    aloft = terms[TERMS + ALOFT]
    model = bowl.density * (path.gain * (terms[POOL] - bowl.outer_edge))
    carried = np.where(path.flow > 0.0, terms[LEAVES], -terms[JET])
    model += bowl.density * path.flow * (terms[RISE] + carried)
    model += terms[TERMS + FORCE_DOWN] - aloft * (GRAVITY - path.rise)
    moving = bowl.density * (path.flow * path.speed + path.volume * path.rise)
    return np.asarray(moving + path.rate("inner_momentum") - model)


def _by_shape(force: FloatArray, shapes: tuple[FloatArray, ...]) -> list[FloatArray]:
    """The parts of a force proportional to given shapes, each (n,).

    Regularised least squares: a term of the model is expected to be right within its own size, so
    that parts that the data do not separate stay small instead of large and opposite.
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
