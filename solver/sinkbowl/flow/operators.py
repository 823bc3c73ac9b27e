"""Operators of a run: grid, solid, mesh, forces, solver and scratch arrays."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from .effects import Force
from .effects.beach import Beach
from .effects.floor import Floor, fit_rows, make_floor
from .effects.friction import make_friction
from .effects.no_slip import NoSlip, WallFaces, make_no_slip, wall_faces
from .effects.orifice_model import Orifice
from .effects.pockets import Pockets
from .effects.tension import Tension
from .grid import Grid
from .kernels import Mesh
from .poisson import TOLERANCE, PressureSolver, pressure_solver
from .solid import Solid
from .state import FlowState, Scratch, make_mesh

F = TypeVar("F", bound=Force)


@dataclass(frozen=True)
class FlowOperators:
    """Grid, solid and solver of one run, and the scratch arrays its steps share.

    Grid and solid are constant; `mesh_of` gives the mesh of a state. cut (k, 2): indices of cut
    cells; crossed (k,): whether the surface runs through them; forces: in order; hole: None if
    resolved; no_slip: None with slip walls; floor: None for a deep tub; pockets: None if air has
    atmospheric pressure and is not measured.
    """

    grid: Grid
    solid: Solid
    walls: WallFaces
    cut: NDArray[np.int64]
    crossed: NDArray[np.bool_]
    solver: PressureSolver
    scratch: Scratch
    density: float
    _mesh: Mesh
    forces: tuple[Force, ...] = ()
    hole: Orifice | None = None
    no_slip: NoSlip | None = None
    floor: Floor | None = None
    pockets: Pockets | None = None

    def mesh_of(self, state: FlowState) -> Mesh:
        """The mesh with its lowest rows on the tub's floor of the state."""
        if self.floor is not None and fit_rows(self._mesh, state, self.floor):
            for force in self.forces:
                force.refit(self._mesh, state.bottom)
        return self._mesh

    def force(self, kind: type[F]) -> F | None:
        """The force of a kind, or None."""
        return next((force for force in self.forces if isinstance(force, kind)), None)


def make_operators(
    grid: Grid,
    solid: Solid,
    density: float,
    tolerance: float = TOLERANCE,
    *,
    hole: Orifice | None = None,
    viscosity: float = 0.0,
    beach: Beach | None = None,
    tension: Tension | None = None,
    with_floor: bool = False,
    pockets: Pockets | None = None,
) -> FlowOperators:
    """Prepare a run; with a kinematic viscosity [m^2/s] walls are no-slip.

    with_floor: the grid's bottom is the tub's floor, at rest.
    """
    mesh, walls = make_mesh(grid, solid), wall_faces(solid)
    friction = no_slip = None
    if viscosity > 0.0:
        friction = make_friction(mesh, viscosity, density, hole, with_floor)
        no_slip = make_no_slip(grid, solid, walls, viscosity, hole)
    return FlowOperators(
        grid=grid,
        solid=solid,
        walls=walls,
        cut=np.ascontiguousarray(np.argwhere(solid.cut_cells)),
        crossed=np.zeros(np.count_nonzero(solid.cut_cells), dtype=np.bool_),
        solver=pressure_solver(grid.shape, tolerance),
        scratch=Scratch(grid),
        density=density,
        _mesh=mesh,
        forces=tuple(force for force in (friction, beach, tension) if force is not None),
        hole=hole,
        no_slip=no_slip,
        floor=make_floor(mesh) if with_floor else None,
        pockets=pockets,
    )
