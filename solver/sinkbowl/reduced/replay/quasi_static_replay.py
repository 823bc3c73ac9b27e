"""The quasi-static model integrated again, with a share of what it lacks in the flow.

    dt = A_i dz / Q(H),   H = D - z - x_hole L(z),   D = D_still(z) + sum x_k delta_k(z)

L is the head that the hole's law lacks: what the flow had, D - z, less what the law needs for the
flow's Q. delta is how far the bowl was out of balance, in draft; by the momentum of bowl and inner
water it is the sum of what their accelerations and the moving water outside hold it up by.
"""

from __future__ import annotations


import numpy as np

from sinkbowl.constants import GRAVITY
from sinkbowl.reduced.discharge import Discharge
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.replay.path import Path, Record
from sinkbowl.sinking import FloatArray

BETWEEN = 3
"""Levels between two moments of the path at which the flow is evaluated."""


class QuasiStaticReplay:
    """Sinking times of one case with any share of what the quasi-static model lacks.

    Attributes
    ----------
    forces, pressures : names of the causes, in the order of `amounts`
    """

    def __init__(self, equations: HeaveEquations, record: Record) -> None:
        self.path = path = Path(equations.vessel, record)
        self._law, self._vessel = equations.law, equations.vessel
        here = path.progress
        z = path.z[here]
        still = np.array([_still_draft(equations, volume) for volume in path.volume[here]])
        needed = np.array([head_needed(self._law, flow) for flow in path.flow[here]])
        parts = _out_of_balance(equations, path, record)
        rest = path.draft[here] - still
        lacks = {name: values[here] for name, values in parts.items()}
        rest = rest - sum(lacks.values(), np.zeros(len(here)))
        lacks["water outside" if lacks else "bowl out of balance"] = rest
        self.forces, self.pressures = tuple(lacks), ("contraction, loss and inertia",)
        # Levels beyond the flow's last have its last lacks.
        beyond = np.linspace(z[-1], self._vessel.rim, 2 * BETWEEN * POINTS)[1:]
        self._z = np.concatenate((_between(z), beyond))
        volumes = np.array([self._vessel.water(level) for level in self._z])
        self._still = np.array([_still_draft(equations, volume) for volume in volumes])
        self._volume = volumes
        self._drafts = [np.interp(self._z, z, values) for values in lacks.values()]
        self._lost = np.interp(self._z, z, path.draft[here] - z - needed)

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where the head is gone before."""
        draft = self._still + sum(
            amount * part for amount, part in zip(amounts[:-1], self._drafts, strict=True)
        )
        under = np.flatnonzero(draft >= self._vessel.rim)
        if under.size == 0:
            return None
        last = int(under[0])
        head = draft - self._z - amounts[-1] * self._lost
        flow = np.array([self._law.flow(value) for value in head[: last + 1]])
        if np.any(flow[1:] <= 0.0) or last == 0:
            return None
        flow[0] = max(flow[0], 0.0)
        # Exact where the square of the flow is straight between two levels.
        steps = 2.0 * np.diff(self._volume[: last + 1]) / (flow[1:] + flow[:-1])
        passed = (self._vessel.rim - draft[last - 1]) / (draft[last] - draft[last - 1])
        return float(np.sum(steps[:-1]) + passed * steps[-1])


POINTS = 60


def head_needed(law: Discharge, flow: float) -> float:
    """Steady head under which a law lets a flow through [m], of the flow's sign."""
    speed = flow / law.area
    c = law.coefficient_of_flow(flow)
    return (speed * abs(speed) / (2.0 * c**2) + law.resistance * flow) / GRAVITY


def _still_draft(equations: HeaveEquations, volume: float) -> float:
    """Draft at which bowl and inner water [m^3] are in balance [m]."""
    vessel = equations.vessel
    wanted = vessel.mass / vessel.density + volume
    low, high = 0.0, 4.0 * vessel.rim
    for _ in range(60):
        middle = 0.5 * (low + high)
        if vessel.displaced(middle) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _out_of_balance(
    equations: HeaveEquations, path: Path, record: Record
) -> dict[str, FloatArray]:
    """Drafts by which accelerations hold bowl and inner water out of balance, each (n,) [m]."""
    if "inner_momentum" not in record.readings:
        return {}
    vessel = equations.vessel
    area = np.array([vessel.outer_area(draft) for draft in path.draft])
    stiffness = vessel.density * GRAVITY * area
    _, rate = path.stored("inner_momentum")
    return {
        "inertia of the bowl": -vessel.mass * path.rise / stiffness,
        "water inside": rate / stiffness,
    }


def _between(z: FloatArray) -> FloatArray:
    """The levels and some between each two."""
    places = np.arange((len(z) - 1) * (BETWEEN + 1) + 1) / (BETWEEN + 1)
    return np.interp(places, np.arange(len(z)), z)


__all__ = ["QuasiStaticReplay", "head_needed"]
