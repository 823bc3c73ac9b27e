"""The water inside the bowl against its height, tabulated once for a run.

Heights lie a 4000th of the bowl's height apart, corners of both outlines included; between them the
volume is nearly straight, and heights read off are exact to 1e-7 of the bowl's height.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.bowl.bowl import Bowl

from .grid import Array

LEVELS = 4001
"""Heights besides the corners."""


@dataclass(frozen=True)
class InnerTable:
    """levels (n,): heights above z = 0 [m]; volumes (n,): water inside on the grid [m^3];
    missing (n,): what the case's bowl would hold more at the same level [m^3].
    """

    levels: Array
    volumes: Array
    missing: Array

    def level(self, held: float) -> float:
        """Height of the inner water of a volume [m]."""
        return float(np.interp(held, self.volumes, self.levels))

    def kept_out(self, held: float) -> float:
        """Water that the grid's thicker wall keeps out at that volume."""
        return float(np.interp(held, self.volumes, self.missing))


def inner_table(bowl: Bowl, carried: Bowl) -> InnerTable:
    """Tabulate the bowl that the grid carries, beside the case's."""
    even = np.linspace(bowl.outer_edge_height, bowl.rim_height, LEVELS)
    corners = np.concatenate((carried.inner[:, 1], bowl.inner[:, 1]))
    levels = np.union1d(even, corners)
    volumes = np.asarray(carried.inner_volume(levels))
    return InnerTable(levels, volumes, np.asarray(bowl.inner_volume(levels)) - volumes)
