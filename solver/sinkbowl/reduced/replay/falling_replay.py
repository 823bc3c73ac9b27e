"""The falling body integrated again, with a share of what it lacks in the flow.

    (m + m_a) V' = W(D) - k V|V| + sum x_k R_k(D)

Two causes, both forces: the weight of the water that the base still holds back, rho g (V_in at the
level D less V_in), and the motion of all the water.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced import falling
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import State, Stop, march
from sinkbowl.reduced.replay.heave_replay import CARE, LATEST
from sinkbowl.reduced.replay.path import Path, Record


class FallingReplay:
    """Sinking times of one case with any share of what the falling body lacks.

    Attributes
    ----------
    forces, pressures : names of the causes, in the order of `amounts`; there is no hole's law
    """

    forces = ("water held back by the base", "motion of the water")
    pressures: tuple[str, ...] = ()

    def __init__(self, equations: HeaveEquations, record: Record, longest: float) -> None:
        self.path = path = Path(equations.vessel, record)
        self._vessel = vessel = equations.vessel
        self._latest = LATEST * longest
        self._mass, self._begin = falling.first_motion(vessel)
        rates = np.array(
            [
                falling.rates(vessel, self._mass, np.array(y))
                for y in zip(path.draft, path.speed, strict=True)
            ]
        )
        inside = np.array([vessel.water(draft) for draft in path.draft])
        held = vessel.density * GRAVITY * (path.volume - inside)
        lacking = self._mass * (path.rise - rates[:, 1])
        highest = np.maximum.accumulate(np.concatenate(([-np.inf], path.draft[:-1])))
        new = path.draft > highest
        self._draft = path.draft[new]
        self._lacks = np.array([held, lacking - held])[:, new]

    def time(self, amounts: FloatArray) -> float | None:
        """Until the rim is under [s]; None where it stays up."""
        force = amounts @ self._lacks
        vessel, mass = self._vessel, self._mass

        def rates(y: State) -> list[float]:
            speed, rise = falling.rates(vessel, mass, y[:2])
            return [speed, rise + float(np.interp(y[0], self._draft, force)) / mass, 1.0]

        stops: dict[str, Stop] = {
            "rim_under": lambda y: y[0] - vessel.rim,
            "late": lambda y: y[2] - self._latest,
        }
        scales = (vessel.rim, float(np.sqrt(GRAVITY * vessel.rim)), 1.0)
        start = np.array([*self._begin, 0.0])
        leg = march(rates, (0.0, start), stops, scales, care=CARE)
        return leg.end[0] if leg.stop == "rim_under" else None
