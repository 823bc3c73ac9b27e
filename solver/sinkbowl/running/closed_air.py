"""Air that the water closes off inside the bowl: when, and how large.

Where the jet's bell reaches the wall it shuts a ring of air off from the air above. That is looked
for on the grid now and then: cells less than half full of water, joined face to face, that hang
together with nothing outside the bowl. It is only read off: the run's numbers do not depend on it.
How large it is counts at that moment: all air has one pressure here, so that later the water gives
and takes such room as it likes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import label

from sinkbowl.flow.voyage import Voyage

EVERY = 8
"""Steps between two looks."""

LEAST_SHARE = 0.01
"""Of the bowl's capacity that has to be closed off: bubbles in the spray are smaller."""

EVENT = "air_closed_off"
VOLUME = "air_closed_off_m3"


@dataclass
class ClosedAir:
    """Looks for closed air.

    Attributes
    ----------
    looked : steps since the last look
    volume : of the air that was closed off first [m^3], 0 as long as none is
    """

    looked: int = 0
    volume: float = 0.0

    def look(self, voyage: Voyage) -> bool:
        """After a step: whether air is closed off now, for the first time."""
        self.looked += 1
        if self.volume > 0.0 or self.looked < EVERY:
            return False
        self.looked = 0
        found = closed_air(voyage)
        if found < LEAST_SHARE * voyage.layout.bowl.inner_capacity:
            return False
        self.volume = found
        return True


def closed_air(voyage: Voyage) -> float:
    """Largest body of air inside the bowl that has no way to the air above [m^3]."""
    volume, water = voyage.mesh.volume, voyage.state.water
    air = (volume > 0.0) & (water < 0.5 * volume)
    bodies, count = label(air)
    if count < 2:
        return 0.0
    volumes = np.bincount(bodies.ravel(), (np.where(air, volume - water, 0.0)).ravel(), count + 1)
    # Above the rim and outside the bowl everything is open, or no business of this.
    open_above = np.unique(bodies[~voyage.inside & air])
    volumes[open_above] = 0.0
    volumes[0] = 0.0
    return float(2.0 * np.pi * volumes.max())
