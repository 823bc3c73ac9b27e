"""What kernels need to know of the grid and of the solid on it."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Mesh(NamedTuple):
    """Grid lines, sizes and open parts, per radian, as they are now; see `Grid` and `Solid`.

    r_f (nr+1,), z_f (nz+1,), r_c, dr (nr,), z_c, dz (nz,) [m]; volume, whole (nr, nz): open and in
    all [m^3]; area_r (nr+1, nz), area_z (nr, nz+1), heave_area (nr, nz) [m^2]; plane (nr, nz, 3);
    cut (nr, nz): cells that the wall passes through. reach (nr, nz, 9) tells which cells of the
    3 x 3 block around a cell can be reached from it through open faces; empty_limit and full_limit
    (nr, nz) bound the extended fraction of a cut cell that holds no water, or nothing but water.
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
