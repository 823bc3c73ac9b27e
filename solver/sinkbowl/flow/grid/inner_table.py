"""Table of the water inside the bowl against its level.

The heights are 1/4000 of the bowl's height apart, plus the corners of both outlines; between them
the volume is nearly linear, and levels are accurate to 1e-7 of the bowl's height.
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
    missing (n,): additional water in the case's bowl at the same level [m^3].
    """

    levels: Array
    volumes: Array
    missing: Array

    def level(self, held: float) -> float:
        """Level of an inner volume [m]."""
        return float(np.interp(held, self.volumes, self.levels))

    def kept_out(self, held: float) -> float:
        """Water displaced by the grid's thicker wall at an inner volume."""
        return float(np.interp(held, self.volumes, self.missing))


def inner_table(bowl: Bowl, carried: Bowl) -> InnerTable:
    """Table of the bowl on the grid, compared with the case's."""
    even = np.linspace(bowl.outer_edge_height, bowl.rim_height, LEVELS)
    corners = np.concatenate((carried.inner[:, 1], bowl.inner[:, 1]))
    levels = np.union1d(even, corners)
    volumes = np.asarray(carried.inner_volume(levels))
    return InnerTable(levels, volumes, np.asarray(bowl.inner_volume(levels)) - volumes)
