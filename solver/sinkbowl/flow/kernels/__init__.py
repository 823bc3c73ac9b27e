"""Compiled kernels: pure functions on arrays, without files, units or options; and their mesh."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sinkbowl.compiled import CACHE, kernel, part

__all__ = ["CACHE", "Mesh", "kernel", "part"]

Array = NDArray[np.float64]


class Mesh(NamedTuple):
    """Present grid lines, sizes and open parts, per radian; see `Grid` and `Solid`.

    r_f (nr+1,), z_f (nz+1,), r_c, dr (nr,), z_c, dz (nz,) [m]; volume, whole (nr, nz): open and
    total [m^3]; area_r (nr+1, nz), area_z (nr, nz+1), heave_area (nr, nz) [m^2]; plane (nr, nz, 3);
    cut (nr, nz): cells that the wall passes through. reach (nr, nz, 9): cells of the 3 x 3 block
    around a cell that are reachable through open faces; empty_limit and full_limit (nr, nz) bound
    the extended fraction of an empty or full cut cell.
    """

    r_f: Array
    z_f: Array
    r_c: Array
    z_c: Array
    dr: Array
    dz: Array
    volume: Array
    whole: Array
    area_r: Array
    area_z: Array
    heave_area: Array
    plane: Array
    cut: NDArray[np.bool_]
    reach: NDArray[np.bool_]
    empty_limit: Array
    full_limit: Array
