"""The tub's floor under a grid that descends with the bowl.

The floor is at rest in the laboratory frame and rises on the grid. Only the lowest open row of
cells changes: its bottom is the floor, u_z = 0 there, and its height decreases as the bowl sinks by
the volume that leaves it through its other faces. When less than `LEAST` of the row is left it is
merged with the row above, which then reaches down to the floor; it is split again if the floor
recedes by more than `REOPENED` of it. Velocities are averaged so that a flow free of divergence
stays so, and no water is gained or lost. All other rows are as in deep water: nothing is stretched,
no row becomes flat, and the kernels have closed cells. The floor is part of the state, the mesh
follows from it, grid and solid are constant.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid import Array
from sinkbowl.flow.kernels import Mesh
from sinkbowl.flow.state import FlowState

LEAST = 0.4  # share of the lowest row's height below which it is closed
REOPENED = 0.6  # share of a closed row's height that must be free for it to open again
DOWN = slice(0, None, 3)  # indices in `Mesh.reach` of the three cells below


@dataclass
class Floor:
    """The rows before the floor rises.

    lines (free+1,): their grid lines [m]; reach (nr, free, 9): see `Mesh`; free: number of rows
    from below without the bowl; fitted: floor and bottom of the last fit of the mesh.
    """

    lines: Array
    reach: NDArray[np.bool_]
    free: int
    fitted: tuple[float, int] | None = None

    @property
    def ceiling(self) -> float:
        """Highest floor that leaves room for the last row under the bowl [m]."""
        return float(self.lines[-1] - LEAST * (self.lines[-1] - self.lines[-2]))


def make_floor(mesh: Mesh) -> Floor:
    """A floor under a mesh not yet changed."""
    whole = np.all(mesh.volume == mesh.whole, axis=0)
    free = int(np.argmin(whole)) if not whole.all() else len(whole) - 1
    lines = mesh.z_f[: free + 1].copy()
    return Floor(lines, mesh.reach[:, :free].copy(), free)


def place_floor(state: FlowState, floor: Floor, height: float, weight: float) -> None:
    """Put the floor at a height over z = 0 [m]; close or open rows.

    weight: rho g [N/m^3]. Call after the water was carried; then fit the mesh.
    """
    state.floor = height
    while state.bottom + 1 < floor.free and _room(state, floor, state.bottom) < LEAST:
        _close_row(state, floor)
    while state.bottom > 0 and _room(state, floor, state.bottom - 1) > REOPENED:
        _open_row(state, floor, weight)
    b = state.bottom
    for u_r, u_z in ((state.u_r, state.u_z), (state.u_r_old, state.u_z_old)):
        u_r[:, :b] = u_r[:, b : b + 1]
        u_z[:, : b + 1] = 0.0


def _room(state: FlowState, floor: Floor, row: int) -> float:
    """Share of a row above the floor."""
    low, high = floor.lines[row : row + 2]
    return float((high - state.floor) / (high - low))


def _halves(state: FlowState, floor: Floor, row: int) -> tuple[float, float]:
    """Heights of a row down to the floor and of the row above it [m]."""
    middle, top = floor.lines[row + 1 : row + 3]
    return float(middle - state.floor), float(top - middle)


def _close_row(state: FlowState, floor: Floor) -> None:
    """Merge the lowest row with the one above."""
    j = state.bottom
    below, above = _halves(state, floor, j)
    for field in (state.u_r, state.u_r_old, state.pressure):
        field[:, j + 1] += below / (below + above) * (field[:, j] - field[:, j + 1])
    state.water[:, j + 1] += state.water[:, j]
    state.water[:, j] = 0.0
    state.extended[:, j] = 0.0
    state.bottom = j + 1


def _open_row(state: FlowState, floor: Floor, weight: float) -> None:
    """Split the lowest row from the one below that it reaches into."""
    state.bottom -= 1
    j = state.bottom
    below, above = _halves(state, floor, j)
    share = below / (below + above)
    for field in (state.u_r, state.u_r_old, state.pressure, state.extended):
        field[:, j] = field[:, j + 1]
    for field in (state.u_z, state.u_z_old):
        field[:, j + 1] = share * field[:, j + 2]
    state.pressure[:, j] += 0.5 * weight * above
    state.pressure[:, j + 1] -= 0.5 * weight * below
    state.water[:, j] = share * state.water[:, j + 1]
    state.water[:, j + 1] -= state.water[:, j]


def fit_rows(mesh: Mesh, state: FlowState, floor: Floor) -> bool:
    """Set the sizes of the rows and close cells below the floor; whether anything changed."""
    b, free = state.bottom, floor.free
    if floor.fitted == (state.floor, b):
        return False
    floor.fitted = state.floor, b
    mesh.z_f[: free + 1] = floor.lines
    mesh.z_f[: b + 1] += state.floor - floor.lines[b]
    mesh.dz[:free] = np.diff(mesh.z_f[: free + 1])
    mesh.z_c[:free] = 0.5 * (mesh.z_f[1 : free + 1] + mesh.z_f[:free])
    ring = (mesh.r_c * mesh.dr)[:, None]
    mesh.whole[:, :free] = ring * mesh.dz[:free]
    mesh.volume[:, :free] = mesh.whole[:, :free]
    mesh.volume[:, :b] = 0.0
    mesh.area_r[1:-1, :free] = mesh.r_f[1:-1, None] * mesh.dz[:free]
    mesh.area_r[:, :b] = 0.0
    mesh.area_z[:, :free] = ring
    mesh.area_z[:, : b + 1] = 0.0
    mesh.reach[:, :free] = floor.reach
    mesh.reach[:, b, DOWN] = False
    return True


def on_still_lines(state: FlowState, floor: Floor, share: Array, fields: tuple[Array, ...]) -> None:
    """Write the contents of the lowest row into the rows of the grid at release.

    share (nr, nz): water's share of each cell, which becomes that of the cell at release; fields:
    others, copied into the row that the lowest one reaches into.
    """
    b = state.bottom
    room = _room(state, floor, b)
    if room <= 1.0:
        share[:, b] *= room
    elif b > 0:
        share[:, b - 1] = share[:, b] * _room(state, floor, b - 1)
        for field in fields:
            field[:, b - 1] = field[:, b]
