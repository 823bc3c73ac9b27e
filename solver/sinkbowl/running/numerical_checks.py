"""Checks that stop a run when the computation fails: what, when, where, what to try.

Checked in every step: values that are not finite, a collapsing time step, a pressure solve that
does not converge, conservation of water and momentum, and water thrown out through the top of the
grid before the rim is under. After that the time is final: water leaving through the top is only
counted, and any other failure ends the run.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import RunError
from sinkbowl.flow.diagnostics import ConservationBudget
from sinkbowl.flow.kernels.extension import has_bad_value
from sinkbowl.flow.simulation import Simulation
from sinkbowl.flow.state import HeaveBody
from sinkbowl.flow.step import DROP, StepReport, advance

SHORTEST_STEP = 1e-8  # time step below which a run fails [s]
VOLUME_OPEN = 1e-9  # relative volume error at which a run fails; round-off is some 1e-13

MOMENTUM_OPEN = 0.2
"""Momentum error at which a run fails, as a share of the weight's impulse and the momentum at
release; ordinary runs stay below 0.01, pushed and dropped ones below 0.02, a coarse one dropped
from half a metre reaches 0.12."""

THROWN_OUT = 0.1  # water through the grid's top, in shares of the capacity, at which a run fails
NOTEWORTHY = 1e-3  # water through the grid's top, in shares of the capacity, from which it is noted

FINER = "Try a smaller flow.cell."


class NumericalFailure(RunError):
    """The computation of a run failed."""


def next_step(sim: Simulation) -> float:
    """Length of the next step [s].

    Raises NumericalFailure if it has collapsed, or a velocity is not finite.
    """
    state = sim.state
    if has_bad_value(state.u_r) or has_bad_value(state.u_z) or not np.isfinite(state.speed):
        raise _stopped(sim, _bad_place(sim), "a velocity is not a number", FINER)
    dt = sim.time_step()
    if not dt > SHORTEST_STEP:
        what = f"the time step fell to {dt:.1e} s: the water moves too fast for the grid"
        raise _stopped(sim, _fastest_place(sim), what, FINER)
    return dt


def guarded_step(sim: Simulation, body: HeaveBody, dt: float) -> StepReport:
    """Advance by one step.

    Raises NumericalFailure with the place of the largest residual if the pressure solve failed.
    """
    try:
        return advance(sim.state, body, dt, sim.ops)
    except RunError as error:
        left = np.abs(sim.ops.solver.vectors[0]).reshape(sim.ops.grid.shape)
        raise _stopped(sim, _cell(sim, left), str(error), FINER) from error


@dataclass
class ConservationWatch:
    """Checks the budgets after each step; thrown_out: water that left through the top [m^3]."""

    thrown_out: float = 0.0

    def look(
        self, sim: Simulation, budget: ConservationBudget, row: dict[str, float], rim_under: bool
    ) -> None:
        """Check the readings of a step, a row of the history.

        Raises NumericalFailure if volume or momentum is not conserved, or water leaves the grid
        before the rim is under.
        """
        if not abs(row["volume_error"]) <= VOLUME_OPEN:
            what = f"water volume is not conserved: {row['volume_error']:.1e} of it is missing"
            raise _stopped(sim, _fastest_place(sim), what, FINER)
        if not abs(row["momentum_error"]) <= MOMENTUM_OPEN:
            missing = row["momentum_error"] * budget.exchanged(sim)
            what = f"momentum is not conserved: the error is {missing:.2g} N s"
            raise _stopped(sim, _fastest_place(sim), what, FINER)
        self.thrown_out += float(2.0 * np.pi * np.sum(sim.ops.scratch.flux_z[:, -1]))
        if not rim_under and self.thrown_out > THROWN_OUT * sim.layout.bowl.inner_capacity:
            what = f"{1e6 * self.thrown_out:.3g} mL of water left through the top of the grid"
            hint = "Try a smaller start.drop_height or start.push."
            i, grid = int(np.argmax(sim.ops.scratch.flux_z[:, -1])), sim.ops.grid
            raise _stopped(sim, (float(grid.r_c[i]), float(grid.z_f[-1])), what, hint)

    def notes(self, sim: Simulation) -> tuple[str, ...]:
        """Sentence on the water that left through the top, if noteworthy."""
        if self.thrown_out < NOTEWORTHY * sim.layout.bowl.inner_capacity:
            return ()
        return (f"{1e6 * self.thrown_out:.3g} mL of water left through the top of the grid.",)


def _stopped(sim: Simulation, place: tuple[float, float], what: str, hint: str) -> NumericalFailure:
    r, z = place
    return NumericalFailure(
        f"At t = {sim.state.time:.4g} s, r = {1e3 * r:.4g} mm, z = {1e3 * z:.4g} mm above the "
        f"bowl's outer bottom: {what}. {hint}"
    )


def _cell(sim: Simulation, size: NDArray[Any]) -> tuple[float, float]:
    """Centre of the cell at which an array (nr, nz) is largest, or first not a number [m]."""
    grid = sim.ops.grid
    i, j = np.unravel_index(int(np.argmax(size)), grid.shape)
    return float(grid.r_c[i]), float(grid.z_c[j])


def _bad_place(sim: Simulation) -> tuple[float, float]:
    state = sim.state
    bad = ~np.isfinite(state.u_r)
    beside = ~np.isfinite(state.u_z)
    return _cell(sim, bad[1:] | bad[:-1] | beside[:, 1:] | beside[:, :-1])


def _fastest_place(sim: Simulation) -> tuple[float, float]:
    """Place of the largest Courant number [m]."""
    state, mesh = sim.state, sim.mesh
    along_r = np.maximum(np.abs(state.u_r[1:]), np.abs(state.u_r[:-1])) / mesh.dr[:, None]
    moved = np.abs(state.u_z - state.speed)
    along_z = np.maximum(moved[:, 1:], moved[:, :-1]) / mesh.dz
    return _cell(sim, np.where(state.water > DROP * mesh.volume, along_r + along_z, 0.0))
