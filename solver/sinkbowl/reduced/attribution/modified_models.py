"""The reduced models integrated again with shares of their residuals in the flow.

The falling body:

    (m + m_a) V' = W(D) - k V|V| + sum x_k R_k(D)

Two causes, both forces: the weight of the water that the base holds back, rho g (V_in at the level
D minus V_in), and the motion of all the water.

The quasi-static model:

    dt = A_i dz / Q(H),   H = D - z - x_hole L(z),   D = D_still(z) + x_bowl delta(z)

L is the missing head in the discharge law: the flow's head D - z minus that for the flow's Q by the
law. delta is the draft by which the bowl is out of balance, by its own inertia and the motion of
all the water.
"""

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced import falling
from sinkbowl.reduced.attribution.flow_course import FlowCourse
from sinkbowl.reduced.attribution.residuals import LAW, residuals_of
from sinkbowl.reduced.discharge import Discharge, law_of_equal
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.kernels.heave import FLOW, SPEED
from sinkbowl.reduced.kernels.hole import flows_under
from sinkbowl.reduced.kernels.integration import RIM_UNDER
from sinkbowl.reduced.kernels.rosenbrock import FALLING, HEAVE
from sinkbowl.reduced.legs import Leg, integrate
from sinkbowl.reduced.tables import Tables
from sinkbowl.statics.vessel import Vessel

LATEST = 3.0  # time, over the longer of flow's and model's, after which a rim counts as dry
TAIL = 0.1  # last share of the flow's levels; its mean residual is used beyond them
ABOVE = 1e-9  # height over the flow's last level from which that mean is used [m]


class ModifiedHeave:
    """Sinking times of a case with any share of the heave model's residuals.

    forces, pressures : names of the causes, in the order of `amounts`
    """

    def __init__(self, tables: Tables, path: FlowCourse, longest: float) -> None:
        self._tables, self.residuals = tables, residuals_of(tables, path)
        self.forces, self.pressures = tuple(self.residuals.forces), tuple(self.residuals.pressures)
        self._first, self._flow_start = first_state(tables), (path.speed[0], path.flow[0])
        self._latest = LATEST * longest

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where it stays up.

        amounts : (k,) of each cause, forces before pressures
        """
        leg = self.leg(amounts)
        return float(leg.times[RIM_UNDER]) if leg.stop == RIM_UNDER else None

    def leg(self, amounts: FloatArray) -> Leg:
        """The solution with shares of the residuals."""
        count, z = len(self.forces), self.residuals.z
        force = sum(
            a * part for a, part in zip(amounts, self.residuals.forces.values(), strict=False)
        )
        pressure = sum(
            a * part
            for a, part in zip(amounts[count:], self.residuals.pressures.values(), strict=True)
        )
        columns = np.column_stack((z, force * np.ones(len(z)), pressure * np.ones(len(z))))
        last = columns[z >= z[-1] - TAIL * (z[-1] - z[0])].mean(axis=0)
        last[0] = z[-1] + ABOVE
        bowl = self._tables.bowl._replace(residuals=np.vstack((columns, last)))
        return integrate(HEAVE, bowl, self._start(amounts), False, latest=self._latest)

    def _start(self, amounts: FloatArray) -> FloatArray:
        """First state: speed and flow change from the model's to the flow's with the causes."""
        state = self._first.copy()
        count = len(self.forces)
        by_force = float(np.mean(amounts[:count])) if count else 0.0
        by_pressure = float(np.mean(amounts[count:]))
        speed, flow = self._flow_start
        state[SPEED] += by_force * (speed - state[SPEED])
        state[FLOW] += by_pressure * (flow - state[FLOW])
        return state


class ModifiedFalling:
    """Sinking times of a case with any share of the falling body's residual.

    forces, pressures : names of the causes, in the order of `amounts`; there is no discharge law
    """

    forces = ("water held back by the base", "motion of the water")
    pressures: tuple[str, ...] = ()

    def __init__(self, tables: Tables, path: FlowCourse, longest: float) -> None:
        self._tables, self._latest = tables, LATEST * longest
        bowl, inner = tables.bowl, tables.vessel.inner
        held = (
            bowl.density * GRAVITY * (path.volume - inner.volume(np.minimum(path.draft, bowl.rim)))
        )
        missing = falling.force_missing(tables, path.draft, path.speed, path.rise)
        highest = np.maximum.accumulate(np.concatenate(([-np.inf], path.draft[:-1])))
        new = path.draft > highest
        self._draft = path.draft[new]
        self._residuals = np.array([held, missing - held])[:, new]

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where it stays up."""
        force = amounts @ self._residuals
        residuals = np.column_stack((self._draft, force, np.zeros(len(force))))
        bowl = self._tables.bowl._replace(residuals=residuals)
        leg = integrate(
            FALLING, bowl, falling.first_state(self._tables), False, latest=self._latest
        )
        return float(leg.times[RIM_UNDER]) if leg.stop == RIM_UNDER else None


BETWEEN, BEYOND = 3, 400
"""Levels between two times of the course, and beyond its last, at which Q is evaluated."""

HALVINGS = 60


class ModifiedQuasiStatic:
    """Sinking times of a case with any share of the quasi-static model's residuals.

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
        """Until the rim is under [s]; None if the head vanishes before."""
        draft = self._still + amounts[0] * self._deeper
        under = np.flatnonzero(draft >= self._vessel.rim)
        if under.size == 0:
            return None
        last = int(under[0])
        head = draft - self._z - amounts[1] * self._lost
        flow = np.empty(last + 1)
        flows_under(self._law.rows[0], head[: last + 1], flow)
        if np.any(flow[1:] <= 0.0) or last == 0:
            return None
        flow[0] = max(flow[0], 0.0)
        # Exact if the square of the flow is linear between two levels.
        steps = 2.0 * np.diff(self._volume[: last + 1]) / (flow[1:] + flow[:-1])
        passed = (self._vessel.rim - draft[last - 1]) / (draft[last] - draft[last - 1])
        return float(np.sum(steps[:-1]) + passed * steps[-1])


def head_needed(law: Discharge, flow: float) -> float:
    """Steady head of a flow by a discharge law [m], of the flow's sign."""
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
