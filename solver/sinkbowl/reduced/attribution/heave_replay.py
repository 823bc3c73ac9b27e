"""The heave model integrated again, with a share of what its equations lack in the flow."""

from __future__ import annotations

import numpy as np

from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.attribution.flow_course import FlowCourse
from sinkbowl.reduced.attribution.residuals import residuals_of
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.kernels.heave import FLOW, SPEED
from sinkbowl.reduced.kernels.integration import HEAVE, RIM_UNDER
from sinkbowl.reduced.legs import Leg, integrate
from sinkbowl.reduced.tables import Tables

LATEST = 3.0
"""Time, over the longer of flow's and model's, after which a rim counts as staying up."""

TAIL = 0.1
"""Last share of the flow's levels, whose mean lack stands for levels that it never reached."""

ABOVE = 1e-9
"""Height over the flow's last level from which that mean holds [m]."""


class HeaveReplay:
    """Sinking times of one case with any share of the heave model's residuals.

    Attributes
    ----------
    forces, pressures : names of the causes, in the order of `amounts`
    """

    def __init__(self, tables: Tables, path: FlowCourse, longest: float) -> None:
        self._tables, self.residuals = tables, residuals_of(tables, path)
        self.forces, self.pressures = tuple(self.residuals.forces), tuple(self.residuals.pressures)
        self._flow_start = float(path.speed[0]), float(path.flow[0])
        self._latest = LATEST * longest

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where it stays up.

        Parameters
        ----------
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
        bowl = self._tables.bowl._replace(lack=np.vstack((columns, last)))
        return integrate(HEAVE, bowl, self._start(amounts), False, latest=self._latest)

    def _start(self, amounts: FloatArray) -> FloatArray:
        """First state: speed and flow pass from the model's to the flow's with the causes."""
        state = first_state(self._tables)
        count = len(self.forces)
        by_force = float(np.mean(amounts[:count])) if count else 0.0
        by_pressure = float(np.mean(amounts[count:]))
        speed, flow = self._flow_start
        state[SPEED] += by_force * (speed - state[SPEED])
        state[FLOW] += by_pressure * (flow - state[FLOW])
        return state
