"""The state of the flow, and arrays of the mesh and of a step."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .grid import Array, Grid, cell_volumes
from .kernels import Mesh
from .kernels.interface import open_polygon
from .solid import Solid

MOST_POCKETS = 255  # maximum number of pockets of closed-off air


@dataclass(frozen=True)
class HeaveBody:
    """The bowl as a rigid body that can only heave.

    mass [kg]; gravity [m/s^2]; held: the bowl is clamped. `extra_lift`: upward force not on the
    grid [N], such as the buoyancy of a ballast ring; inner_level: height of the inner water above z
    = 0 [m], for the discharge of an unresolved hole.
    """

    mass: float
    gravity: float
    extra_lift: float = 0.0
    held: bool = False
    inner_level: float = 0.0


@dataclass
class FlowState:
    """The state; the lowest rows of the mesh follow from `floor` and `bottom`.

    Lab-frame velocities u_r (nr+1, nz), u_z (nr, nz+1) [m/s]; water (nr, nz) [m^3 per radian];
    extended (nr, nz), the fraction continued into walls; pressure (nr, nz) [Pa]; speed: upward
    velocity of the bowl [m/s]; height: upward displacement of the bowl since the start [m]; dt,
    stride: last steps of water and velocities, lead: time by which the velocities are ahead [s];
    top: number of grid rows that hold liquid cells; back_pressure: of the orifice model, see there
    [Pa]; floor: height of the tub's floor on the grid [m], and bottom: the row that stands on it,
    where there is one; pocket (nr, nz): label of the pocket of closed-off air that a cell belongs
    to, see `kernels/pockets.py`, pockets: how many there are, and pocket_air (MOST_POCKETS,): what
    each holds, at the atmosphere's pressure [m^3 per radian].
    """

    u_r: Array
    u_z: Array
    u_r_old: Array
    u_z_old: Array
    water: Array
    extended: Array
    normal: Array
    offset: Array
    pressure: Array
    liquid: NDArray[np.bool_]
    known_r: NDArray[np.int8]
    known_z: NDArray[np.int8]
    known_r_old: NDArray[np.int8]
    known_z_old: NDArray[np.int8]
    pocket: NDArray[np.int16]
    pocket_air: Array
    speed: float = 0.0
    height: float = 0.0
    time: float = 0.0
    dt: float = 0.0
    stride: float = 0.0
    lead: float = 0.0
    step: int = 0
    top: int = 1
    back_pressure: float = 0.0
    floor: float = 0.0
    bottom: int = 0
    pockets: int = 0


def empty_state(grid: Grid) -> FlowState:
    """State of rest without water."""
    nr, nz = grid.shape
    return FlowState(
        u_r=np.zeros((nr + 1, nz)),
        u_z=np.zeros((nr, nz + 1)),
        u_r_old=np.zeros((nr + 1, nz)),
        u_z_old=np.zeros((nr, nz + 1)),
        water=np.zeros((nr, nz)),
        extended=np.zeros((nr, nz)),
        normal=np.zeros((nr, nz, 2)),
        offset=np.zeros((nr, nz)),
        pressure=np.zeros((nr, nz)),
        liquid=np.zeros((nr, nz), dtype=np.bool_),
        known_r=np.zeros((nr + 1, nz), dtype=np.int8),
        known_z=np.zeros((nr, nz + 1), dtype=np.int8),
        known_r_old=np.zeros((nr + 1, nz), dtype=np.int8),
        known_z_old=np.zeros((nr, nz + 1), dtype=np.int8),
        pocket=np.zeros((nr, nz), dtype=np.int16),
        pocket_air=np.zeros(MOST_POCKETS),
    )


class Scratch:
    """Arrays overwritten in each step."""

    def __init__(self, grid: Grid) -> None:
        nr, nz = cells = grid.shape
        r_faces, z_faces = (nr + 1, nz), (nr, nz + 1)
        self.flux_r, self.flux_z = np.zeros(r_faces), np.zeros(z_faces)
        self.ahead_r, self.ahead_z = np.zeros(r_faces), np.zeros(z_faces)
        self.next_r, self.next_z = np.zeros(r_faces), np.zeros(z_faces)
        self.dilation, self.mask = np.zeros(cells), np.zeros(cells, dtype=np.bool_)
        self.source, self.wanted = np.zeros(cells), np.zeros(cells)
        self.front = np.zeros(((nr + 1) * (nz + 1), 2), dtype=np.int64)
        self.polygons = np.empty((4, 16, 2))


def make_mesh(grid: Grid, solid: Solid) -> Mesh:
    """The mesh for the kernels, with its own arrays."""
    mesh = Mesh(
        r_f=grid.r_f.copy(),
        z_f=grid.z_f.copy(),
        r_c=grid.r_c.copy(),
        z_c=grid.z_c.copy(),
        dr=grid.dr.copy(),
        dz=grid.dz.copy(),
        volume=solid.volume.copy(),
        whole=cell_volumes(grid),
        area_r=solid.area_r.copy(),
        area_z=solid.area_z.copy(),
        heave_area=solid.heave_area.copy(),
        plane=solid.plane.copy(),
        cut=solid.cut_cells,
        reach=_reach(solid),
        empty_limit=np.zeros(grid.shape),
        full_limit=np.ones(grid.shape),
    )
    _bound_levels(mesh)
    return mesh


def _reach(solid: Solid) -> NDArray[np.bool_]:
    """Cells of each 3 x 3 block that are reachable from its middle through open faces."""
    nr, nz = solid.volume.shape
    r_open = solid.area_r > 0.0
    z_open = solid.area_z > 0.0
    right, up = np.zeros((nr, nz), bool), np.zeros((nr, nz), bool)
    right[:-1] = r_open[1:-1]
    up[:, :-1] = z_open[:, 1:-1]
    left, down = np.zeros((nr, nz), bool), np.zeros((nr, nz), bool)
    left[1:] = right[:-1]
    down[:, 1:] = up[:, :-1]
    reach = np.zeros((nr, nz, 9), dtype=np.bool_)
    reach[..., 4] = solid.volume > 0.0
    for di, along_r in ((1, right), (-1, left)):
        reach[..., 3 * (di + 1) + 1] = along_r
        for dj, along_z in ((1, up), (-1, down)):
            reach[..., 3 + dj + 1] = along_z
            first_r = along_r & np.roll(along_z, -di, axis=0)
            first_z = along_z & np.roll(along_r, -dj, axis=1)
            reach[..., 3 * (di + 1) + dj + 1] = first_r | first_z
    return reach


def _bound_levels(mesh: Mesh) -> None:
    """Highest extended fraction of an empty cut cell, and lowest of a full one."""
    rect, poly = np.empty((16, 2)), np.empty((16, 2))
    for i, j in np.argwhere(mesh.cut):
        n = open_polygon(mesh.r_f, mesh.z_f, mesh.plane, i, j, rect, poly)
        mesh.empty_limit[i, j] = (poly[:n, 1].min() - mesh.z_f[j]) / mesh.dz[j]
        mesh.full_limit[i, j] = (poly[:n, 1].max() - mesh.z_f[j]) / mesh.dz[j]
