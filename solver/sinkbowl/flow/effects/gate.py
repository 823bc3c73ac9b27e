"""The gate in the hole: the meniscus that keeps a dry hole shut until enough head stands on it.

The meniscus sits on the hole's edge and is far thinner than its cells, so it is not resolved: the
hole's outer end is closed by a lid, which moves with the bowl and carries the pressure under it to
the bowl, as the meniscus does through its edge. The gate opens for good when the outer surface
stands higher above the hole's inner edge than the breakthrough head of `statics/capillarity.py`.
The head is the static one: the jerk of a push or of the base meeting the water lasts far shorter
than the meniscus takes to give way.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid.grid import Grid
from sinkbowl.flow.grid.solid import Solid, heave_areas


def lidded(grid: Grid, solid: Solid, rows: NDArray[np.int64], plug: int) -> Solid:
    """The solid with a lid without thickness across the hole.

    Parameters
    ----------
    rows : indices along r of the cells in the hole
    plug : index of the grid line at the hole's outer end
    """
    area_z = solid.area_z.copy()
    area_z[rows, plug] = 0.0
    z = np.full(len(rows), grid.z_f[plug])
    inner, outer = grid.r_f[rows], grid.r_f[rows + 1]
    below = np.column_stack((rows, np.full(len(rows), plug - 1)))
    above = np.column_stack((rows, np.full(len(rows), plug)))
    cells = np.concatenate((below, above)).astype(np.int64)
    faces = np.concatenate(
        (np.column_stack((inner, z, outer, z)), np.column_stack((outer, z, inner, z)))
    )
    return replace(
        solid,
        area_z=area_z,
        heave_area=heave_areas(solid.volume, area_z),
        pieces=np.concatenate((solid.pieces, faces)),
        piece_cell=np.concatenate((solid.piece_cell, cells)),
        row_cell=np.concatenate((solid.row_cell, cells)),
    )
