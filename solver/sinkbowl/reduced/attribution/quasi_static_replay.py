"""The quasi-static model integrated again, with a share of its residual in the flow.

    dt = A_i dz / Q(H),   H = D - z - x_hole L(z),   D = D_still(z) + x_bowl delta(z)

L is the head that is missing in the hole's law: what the flow had, D - z, less what the law needs
for the flow's Q. delta is how far the bowl was out of balance, in draft: what its own inertia and
the motion of all the water hold it up by or press it down.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.attribution.flow_course import FlowCourse
from sinkbowl.reduced.attribution.residuals import LAW
from sinkbowl.reduced.discharge import Discharge, law_of_equal
from sinkbowl.reduced.tables import Tables
from sinkbowl.statics.vessel import Vessel

BETWEEN, BEYOND = 3, 400
"""Levels between two moments of the path, and beyond its last, at which Q is evaluated."""

HALVINGS = 60


class QuasiStaticReplay:
    """Sinking times of one case with any share of the quasi-static model's residuals.

    Attributes
    ----------
    forces, pressures : names of the causes, in the order of `amounts`
    """

    forces, pressures = ("bowl out of balance",), (LAW,)

    def __init__(self, tables: Tables, path: FlowCourse) -> None:
        self._law, self._vessel = law_of_equal(tables.case), tables.vessel
        here = path.progress
        z = path.z[here]
        still = _still_drafts(self._vessel, path.volume[here])
        needed = np.array([head_needed(self._law, flow) for flow in path.flow[here]])
        # Levels beyond the flow's last have its last residuals.
        beyond = np.linspace(z[-1], self._vessel.rim, BEYOND)[1:]
        self._z = np.concatenate((_between(z), beyond))
        self._volume = np.asarray(self._vessel.inner.volume(self._z))
        self._still = _still_drafts(self._vessel, self._volume)
        self._deeper = np.interp(self._z, z, path.draft[here] - still)
        self._lost = np.interp(self._z, z, path.draft[here] - z - needed)

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where the head is gone before."""
        draft = self._still + amounts[0] * self._deeper
        under = np.flatnonzero(draft >= self._vessel.rim)
        if under.size == 0:
            return None
        last = int(under[0])
        head = draft - self._z - amounts[1] * self._lost
        flow = np.array([self._law.flow(value) for value in head[: last + 1]])
        if np.any(flow[1:] <= 0.0) or last == 0:
            return None
        flow[0] = max(flow[0], 0.0)
        # Exact where the square of the flow is straight between two levels.
        steps = 2.0 * np.diff(self._volume[: last + 1]) / (flow[1:] + flow[:-1])
        passed = (self._vessel.rim - draft[last - 1]) / (draft[last] - draft[last - 1])
        return float(np.sum(steps[:-1]) + passed * steps[-1])


def head_needed(law: Discharge, flow: float) -> float:
    """Steady head under which a law lets a flow through [m], of the flow's sign."""
    speed = flow / law.area
    c = law.coefficient_of_flow(flow)
    return (speed * abs(speed) / (2.0 * c**2) + law.resistance * flow) / GRAVITY


def _still_drafts(vessel: Vessel, volumes: FloatArray) -> FloatArray:
    """Drafts at which bowl and inner water (n,) [m^3] are in balance [m]."""
    wanted = vessel.mass / vessel.density + volumes
    low, high = np.zeros(len(volumes)), np.full(len(volumes), 4.0 * vessel.rim)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        less = vessel.outer.volume(middle) < wanted
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return np.asarray(0.5 * (low + high))


def _between(z: FloatArray) -> FloatArray:
    """The levels and some between each two."""
    places = np.arange((len(z) - 1) * (BETWEEN + 1) + 1) / (BETWEEN + 1)
    return np.interp(places, np.arange(len(z)), z)
