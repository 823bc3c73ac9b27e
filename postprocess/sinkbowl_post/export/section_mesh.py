"""The section of a run as a mesh: the cells that are not wholly solid, and their fields.

The half plane of the section lies in space as x = r, y = 0, z = z, in the bowl's frame; velocities
are those of the laboratory. Cut cells stay whole rectangles: ``open_volume`` holds the volume of
the open part of each cell, once round the axis, so that the water of a frame is the sum of
volume_fraction * open_volume.
"""

from __future__ import annotations

from dataclasses import dataclass

import meshio
import numpy as np
from numpy.typing import NDArray

from sinkbowl.running.result import Result

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SectionMesh:
    """Points (n, 3) [m], quadrilaterals (m, 4) and where their values stand in a field (nr, nz).

    open_volume (m,) [m^3] is the open part of each cell, once round the axis.
    """

    points: Array
    quads: NDArray[np.intp]
    shown: NDArray[np.bool_]
    open_volume: Array

    @classmethod
    def of(cls, result: Result) -> SectionMesh:
        """Mesh of a result's grid."""
        r_f, z_f, is_open = (result.grid[name] for name in ("r_f", "z_f", "open_fraction"))
        r, z = np.meshgrid(r_f, z_f, indexing="ij")
        points = np.column_stack((r.ravel(), np.zeros(r.size), z.ravel()))
        number = np.arange(r.size).reshape(r.shape)
        corners = (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
        shown = is_open > 0.0
        quads = np.stack([corner[shown] for corner in corners], axis=1)
        whole = np.pi * np.outer(np.diff(r_f**2), np.diff(z_f))
        return cls(points, quads, shown, (whole * is_open)[shown])

    def cell_data(self, result: Result, k: int) -> dict[str, list[Array]]:
        """Fields of frame k [SI] as meshio wants them: a list with one array a block of cells."""
        fields = {name: field[self.shown] for name, field in result.frames.fields(k).items()}
        u_r, u_z = fields.pop("u_r"), fields.pop("u_z")
        velocity = np.column_stack((u_r, np.zeros_like(u_r), u_z))
        named = {**fields, "velocity": velocity, "open_volume": self.open_volume}
        return {name: [np.asarray(value, dtype=float)] for name, value in named.items()}

    def frame(self, result: Result, k: int) -> meshio.Mesh:
        """Frame k as a mesh with its fields."""
        return meshio.Mesh(self.points, [("quad", self.quads)], cell_data=self.cell_data(result, k))
