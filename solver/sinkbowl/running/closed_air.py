"""The first time that the water closes off air inside the bowl, and how much.

That is where the jet's bell reaches the wall and shuts off a ring of air from the air above.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sinkbowl.flow.effects.pockets import ClosedAir
from sinkbowl.flow.simulation import Simulation

LEAST_SHARE = 0.01
"""Of the bowl's capacity that has to be closed off: bubbles in the spray are smaller."""

EVENT = "air_closed_off"
VOLUME = "air_closed_off_m3"


@dataclass
class FirstClosedAir:
    """volume: of the air that was closed off first [m^3], 0 as long as none is."""

    volume: float = 0.0

    def look(self, sim: Simulation, air: ClosedAir) -> bool:
        """After a step: whether air is closed off inside the bowl now, for the first time."""
        if self.volume > 0.0 or not len(air.volume):
            return False
        inside = np.unique(sim.state.pocket[sim.inside & ~sim.state.liquid])
        volumes = 2.0 * np.pi * air.volume[inside[inside > 0] - 1]
        largest = float(volumes.max(initial=0.0))
        if largest < LEAST_SHARE * sim.layout.bowl.inner_capacity:
            return False
        self.volume = largest
        return True
