"""Set-up of the multigrid stack and the pressure-and-heave solve on it."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from sinkbowl.common.errors import RunError

from .grid import Array
from .kernels import conjugate, stack
from .kernels.conjugate import Couplings
from .kernels.pockets import PocketTerms
from .kernels.stack import Stack
from .state import MOST_POCKETS

TOLERANCE = 1e-6  # default relative residual of the pressure solve

TENSE_TOLERANCE = 1e-8
"""The same with surface tension: cells just under the surface make the right side large."""

COARSEST = 4  # coarsening stops when either direction has at most this many cells


@dataclass(frozen=True)
class PressureSolver:
    """Multigrid stack with its scratch space; `shape` is that of the finest grid.

    The caller fills the terms of the pockets of closed-off air and the views right, above and fixed
    (nr, nz) of the couplings: of each cell to the next along r, along z, and to p = 0.
    """

    stack: Stack
    couplings: Couplings
    right: Array
    above: Array
    fixed: Array
    pockets: PocketTerms
    vectors: Array
    guess: Array
    sums: Array
    heave: Array
    shape: tuple[int, int]
    tolerance: float = TOLERANCE
    most: int = 200

    def solve(
        self, source: Array, heave: Array, sigma: float, pressure: Array, used: int
    ) -> tuple[int, float]:
        """Solve for the pressure in place, from its old value; iterations and relative residual.

        source : right side (nr, nz) [m^3/s per radian]
        heave : heave areas of liquid cells, zero elsewhere (nr, nz) [m^2 per radian]
        sigma : 2 pi dt / M, or 0 for a held bowl [s/kg]
        pressure : guess and result (nr, nz) [Pa]
        used : number of grid rows along z, from below, that hold water

        Raises RunError if the residual stays above the tolerance.
        """
        self.stack.used[0] = used
        stack.build(self.stack, *self.couplings)
        body, b, x = (heave.ravel(), sigma), source.ravel(), pressure.ravel()
        wanted, scratch = (self.tolerance, self.most), (self.vectors, self.guess, self.sums)
        steps, left = conjugate.solve(
            self.stack, self.couplings, *body, self.pockets, b, x, *wanted, *scratch
        )
        if not left <= self.tolerance:
            raise RunError(
                f"the pressure solve did not converge: residual {left:.1e} after {steps} steps "
                f"(wanted {self.tolerance:.0e})"
            )
        return int(steps), float(left)


def pressure_solver(
    shape: tuple[int, int],
    tolerance: float = TOLERANCE,
    precision: type[np.floating[Any]] = np.float32,
) -> PressureSolver:
    """Multigrid levels for a grid of `shape` cells, with the cycle in a `precision`."""
    shapes = [shape]
    while min(shapes[-1]) > COARSEST:
        shapes.append(((shapes[-1][0] + 1) // 2, (shapes[-1][1] + 1) // 2))
    sizes = [a * b for a, b in shapes]
    margin = shape[1]
    total = sum(sizes) + 2 * margin
    finest = sizes[0] + 2 * margin
    levels = Stack(
        start=(margin + np.concatenate(([0], np.cumsum(sizes)[:-1]))).astype(np.int64),
        rows=np.array([a for a, _ in shapes], dtype=np.int64),
        columns=np.array([b for _, b in shapes], dtype=np.int64),
        used=np.array([b for _, b in shapes], dtype=np.int64),
        first_row=np.cumsum([0] + [a for a, _ in shapes[:-1]], dtype=np.int64),
        tops=np.zeros(sum(a for a, _ in shapes), dtype=np.int64),
        **{name: np.zeros(total, dtype=precision) for name in Stack._fields[6:]},
    )
    couplings = Couplings(*(np.zeros(finest) for _ in Couplings._fields))
    right, above, fixed = (x[margin : margin + sizes[0]].reshape(shape) for x in couplings[:3])
    return PressureSolver(
        stack=levels,
        couplings=couplings,
        right=right,
        above=above,
        fixed=fixed,
        pockets=PocketTerms(
            cell=np.zeros(2 * sizes[0], dtype=np.int32),
            owner=np.zeros(2 * sizes[0], dtype=np.int32),
            strength=np.zeros(2 * sizes[0]),
            used=np.zeros(2, dtype=np.int64),
            number=np.zeros(MOST_POCKETS + 1, dtype=np.int64),
            **{name: np.zeros(MOST_POCKETS) for name in PocketTerms._fields[4:-1]},
        ),
        vectors=np.zeros((2, sizes[0])),
        guess=np.zeros(finest),
        sums=np.zeros(shape[1]),
        heave=np.zeros(shape),
        shape=shape,
        tolerance=tolerance,
    )
