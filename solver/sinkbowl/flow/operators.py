"""Grid, solid, solver and scratch space of one run: what its steps work with."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .effects.beach import Beach
from .effects.floor import Floor, make_floor
from .effects.friction import Friction, make_friction
from .effects.orifice import Orifice
from .effects.stick import Stick, make_stick
from .effects.tension import Tension
from .grid.grid import Grid
from .grid.solid import Solid
from .grid.walls import WallFaces, wall_faces
from .kernels.mesh import Mesh
from .poisson import PressureSolver, pressure_solver
from .state import Scratch, make_mesh, make_scratch


@dataclass(frozen=True)
class FlowOperators:
    """Grid, solid and solver of one run, and the scratch arrays its steps share.

    cut (k, 2): indices of cut cells; crossed (k,): whether the surface runs through them;
    open_above (nr, nz): whether the upper face is open; tension: None where it is not counted;
    hole: None where the grid resolves it; friction, stick: None where walls slip; beach, floor:
    None where there is none.
    """

    grid: Grid
    solid: Solid
    mesh: Mesh
    walls: WallFaces
    cut: NDArray[np.int64]
    crossed: NDArray[np.bool_]
    open_above: NDArray[np.bool_]
    solver: PressureSolver
    scratch: Scratch
    density: float
    tension: Tension | None = None
    hole: Orifice | None = None
    friction: Friction | None = None
    stick: Stick | None = None
    beach: Beach | None = None
    floor: Floor | None = None


def make_operators(
    grid: Grid,
    solid: Solid,
    density: float,
    tolerance: float = 1e-7,
    tension: Tension | None = None,
    hole: Orifice | None = None,
    viscosity: float = 0.0,
    beach: Beach | None = None,
    with_floor: bool = False,
) -> FlowOperators:
    """Prepare a run; with a kinematic viscosity [m^2/s] the water sticks to the solid.

    with_floor: the grid's bottom is the tub's floor, which stays where it is.
    """
    mesh, open_above = make_mesh(grid, solid), solid.area_z[:, 1:] > 0.0
    walls, sticky = wall_faces(solid), viscosity > 0.0
    return FlowOperators(
        grid=grid,
        solid=solid,
        mesh=mesh,
        walls=walls,
        cut=np.ascontiguousarray(np.argwhere(solid.cut_cells)),
        open_above=open_above,
        crossed=np.zeros(np.count_nonzero(solid.cut_cells), dtype=np.bool_),
        solver=pressure_solver(grid.shape, tolerance),
        scratch=make_scratch(grid),
        density=density,
        tension=tension,
        hole=hole,
        friction=make_friction(grid, solid, viscosity, hole) if sticky else None,
        stick=make_stick(grid, solid, walls, viscosity, hole) if sticky else None,
        beach=beach,
        floor=make_floor(mesh, open_above) if with_floor else None,
    )
