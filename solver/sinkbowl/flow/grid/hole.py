"""The hole on the grid: its cells and lines, and its gate.

The gate: a meniscus keeps a dry hole shut until the head is large enough. It is far thinner than
the cells and not resolved: the hole's outer end is closed by a lid, which moves with the bowl and
transmits the pressure to it, as the meniscus does at its edge. The gate opens for good when the
outer surface is higher above the hole's inner edge than the breakthrough head of
`statics/capillarity.py`. Only the static head counts: the pressure peak of a push or an impact is
far shorter than the meniscus needs to break.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.bowl import Bowl

from .grid import Grid


@dataclass(frozen=True)
class HolePlace:
    """The hole on the grid.

    radius: on the grid [m], in an unresolved hole the jet's; columns: cells across it; plug, exit:
    indices of the z-lines at its outer and inner end; edge: of the line at the inner edge of the
    case's bowl, equal to exit unless the wall is thickened.
    """

    radius: float
    columns: int
    plug: int
    exit: int
    edge: int

    @property
    def rows(self) -> NDArray[np.int64]:
        """Indices along r of its cells (columns,)."""
        return np.arange(self.columns)

    @property
    def neck(self) -> NDArray[np.int64]:
        """Indices of its z-lines, from plug to exit."""
        return np.arange(self.plug, self.exit + 1)

    def lid(self, grid: Grid) -> NDArray[np.bool_]:
        """The z-faces (nr, nz+1) of a lid without thickness across its outer end."""
        faces = np.zeros((grid.shape[0], len(grid.z_f)), dtype=np.bool_)
        faces[: self.columns, self.plug] = True
        return faces


def place_hole(grid: Grid, carried: Bowl, bowl: Bowl) -> HolePlace:
    """Find the hole of the bowl on the grid; `bowl` is the case's."""

    def line(height: float) -> int:
        return int(np.argmin(np.abs(grid.z_f - height)))

    return HolePlace(
        radius=carried.hole_radius,
        columns=int(np.count_nonzero(grid.r_c < carried.hole_radius)),
        plug=line(carried.outer_edge_height),
        exit=line(carried.inner_edge_height),
        edge=line(bowl.inner_edge_height),
    )
