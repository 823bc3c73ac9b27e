"""What kernels need to know of the grid and of the solid on it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Mesh(NamedTuple):
    """Grid lines, sizes and open parts, per radian; see `Grid` and `Solid`.

    reach (nr, nz, 9) tells which cells of the 3 x 3 block around a cell can be reached from it
    through open faces; empty_limit and full_limit (nr, nz) bound the virtual fraction of a cut
    cell that holds no water, or nothing but water.
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
