"""The falling body integrated again, with a share of its residual in the flow.

    (m + m_a) V' = W(D) - k V|V| + sum x_k R_k(D)

Two causes, both forces: the weight of the water that the base still holds back, rho g (V_in at the
level D less V_in), and the motion of all the water.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced import falling
from sinkbowl.reduced.attribution.flow_course import FlowCourse
from sinkbowl.reduced.attribution.heave_replay import LATEST
from sinkbowl.reduced.kernels.integration import FALLING, RIM_UNDER
from sinkbowl.reduced.legs import integrate
from sinkbowl.reduced.tables import Tables


class FallingReplay:
    """Sinking times of one case with any share of the falling body's residual.

    Attributes
    ----------
    forces, pressures : names of the causes, in the order of `amounts`; there is no hole's law
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
        lack = np.column_stack((self._draft, force, np.zeros(len(force))))
        bowl = self._tables.bowl._replace(lack=lack)
        leg = integrate(
            FALLING, bowl, falling.first_state(self._tables), False, latest=self._latest
        )
        return float(leg.times[RIM_UNDER]) if leg.stop == RIM_UNDER else None
