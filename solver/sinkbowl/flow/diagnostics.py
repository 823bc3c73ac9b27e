"""What is read off a simulation after each step, and the budgets of volume and momentum.

Volume: water in the domain against its start and what came through bottom and top.
Vertical momentum of water and bowl together, upwards:

    d(P_water + M V)/dt = p_bottom A_bottom - (rho V_water + M) g + F_ring + F_beach,

the lab velocity being zero on the bottom plane; the hydrostatic defect of the cell-centre pressures
is the weight of water in half cells at walls and acts between water and bowl. The momentum error
is what the two sides have drifted apart, over the impulse of the bowl's weight since release. It
measures the scheme (the convection is not in conservation form); the bowl's own equation holds to
the pressure tolerance. What a bowl that is pushed or dropped brings along counts too.

Energy of water and bowl: kinetic, the mean of the velocities half a step before and after the
water, and potential against the start, heights from the undisturbed
surface. Water that comes in through the bottom plane rests and brings its potential energy; ring
and thickening do work on the bowl; pockets of closed-off air hold what was spent on pressing them
together. What is missing was lost: in eddies too fine for the grid, in splashes, in the discharge
law of an unresolved hole, where pockets are vented, on the beach, whose share is known.

Air: what pockets took from the atmosphere's air is what they hold and what they gave back.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.constants import GRAVITY

from .effects.floor import on_still_lines
from .grid.grid import Array
from .inner_diagnostics import InnerDiagnostics, make_inner_diagnostics
from .kernels import sums
from .simulation import Simulation
from .step import DROP, StepReport, added_up

UNSEEN = ("buoyancy_correction", "hole_force", "viscous_force")
"""Columns of the history for the forces on the bowl that do not act in every run."""


@dataclass
class ConservationBudget:
    """Running sums since release: water let in [m^3], clipped [m^3], impulse of forces [N s],
    energy brought in [J].

    volume: water in the tub after the last step [m^3]; beach_energy: taken by the beach [J];
    moving: kinetic energy that the last step left [J]; draft: after it [m]; closed_air, vented_air:
    air that pockets took from the atmosphere and gave back to it [m^3].
    """

    start_volume: float
    start_momentum: float
    start_energy: tuple[float, float]
    volume: float
    moving: float
    draft: float
    water_in: float = 0.0
    clipped: float = 0.0
    impulse: float = 0.0
    energy_in: float = 0.0
    beach_energy: float = 0.0
    closed_air: float = 0.0
    vented_air: float = 0.0

    def book(self, sim: Simulation, report: StepReport, lift: float) -> None:
        """Add one step; `lift` is the ring's and the thickening's force during it [N]."""
        self.water_in += report.water_in
        self.clipped += report.clipped
        self.volume = _water_volume(sim)
        case = sim.case
        weight = (case.water.density * self.volume + case.total_mass) * GRAVITY
        push = _bottom_thrust(sim) + lift - weight
        self.impulse += report.stride * push + report.impulse
        self.beach_energy += report.energy
        self.closed_air += 2.0 * np.pi * report.air.closed
        self.vented_air += 2.0 * np.pi * report.air.vented
        sunk, self.draft = sim.draft - self.draft, sim.draft
        height = sim.mesh.z_f[sim.state.bottom] - sim.draft + 0.5 * sunk
        brought = case.water.density * GRAVITY * height * report.water_in
        self.energy_in += brought - lift * sunk

    def exchanged(self, sim: Simulation) -> float:
        """Weight's impulse since release and the momentum that was brought along [N s]."""
        weight = sim.case.total_mass * GRAVITY
        return weight * sim.state.time + abs(self.start_momentum)


def _water_volume(sim: Simulation) -> float:
    """All the water in the tub [m^3]."""
    return float(2.0 * np.pi * sums.total(sim.state.water))


def _bottom_thrust(sim: Simulation) -> float:
    """Upward force of the bottom plane on the water [N]; the half cell to it is hydrostatic."""
    mesh, state, rho = sim.mesh, sim.state, sim.case.water.density
    b = state.bottom
    area = mesh.r_c * mesh.dr
    pressure = state.pressure[:, b] + rho * GRAVITY * 0.5 * mesh.dz[b]
    return float(2.0 * np.pi * np.sum(pressure * area))


def momentum(sim: Simulation) -> float:
    """Upward momentum of water and bowl [N s]."""
    state, case = sim.state, sim.case
    water = 2.0 * np.pi * case.water.density * sums.upward_momentum(state.water, state.u_z)
    return float(water + case.total_mass * state.speed)


def kinetic_energy(sim: Simulation) -> float:
    """Kinetic energy of water and bowl with the present velocities [J]."""
    state, case = sim.state, sim.case
    water = sums.kinetic_energy(state.water, state.u_r, state.u_z)
    return float(2.0 * np.pi * case.water.density * water + 0.5 * case.total_mass * state.speed**2)


def potential_energy(sim: Simulation) -> float:
    """Potential energy of water and bowl, heights from the undisturbed surface [J]."""
    state, case, mesh = sim.state, sim.case, sim.mesh
    heights = mesh.z_c - sim.draft
    moment = sums.first_moment(state.water, mesh.volume, heights, mesh.dz)
    water = 2.0 * np.pi * case.water.density * moment
    return GRAVITY * float(water + case.total_mass * state.height)


def open_budget(sim: Simulation) -> ConservationBudget:
    """Budgets at release."""
    volume, moving = _water_volume(sim), kinetic_energy(sim)
    return ConservationBudget(
        start_volume=volume,
        start_momentum=momentum(sim),
        start_energy=(moving, potential_energy(sim)),
        volume=volume,
        moving=moving,
        draft=sim.draft,
    )


@dataclass(frozen=True)
class Diagnostics:
    """Fixed parts of the readings.

    beside: rows of the open water beside the bowl, ring_area
    its area [m^2]; crest: the cells just above the rim; inner: of the water inside.
    """

    beside: slice
    ring_area: float
    crest: tuple[NDArray[np.int64], int]
    inner: InnerDiagnostics

    def row(
        self, sim: Simulation, budget: ConservationBudget, report: StepReport, dt: float
    ) -> dict[str, float]:
        """One row of the history; names and units as in the result file's table of datasets."""
        bowl, state = sim.case.bowl, sim.state
        inner = sim.inner_volume()
        level = sim.inner_table.level(inner) - bowl.inner_edge_height
        volume = budget.volume
        balance = volume - budget.start_volume - budget.water_in
        drift = momentum(sim) - budget.start_momentum - budget.impulse
        after, height = kinetic_energy(sim), potential_energy(sim)
        moving, budget.moving = 0.5 * (budget.moving + after), after
        before = added_up(budget.start_energy) + budget.energy_in
        air = report.air
        pressed = 2.0 * np.pi * air.energy
        return {
            "t": state.time,
            "draft": sim.draft,
            "speed": sim.speed,
            "inner_volume": inner,
            "inner_level": level,
            "head": sim.draft - bowl.inner_edge_height - level,
            "hole_flow": self.hole_volume(sim) / dt,
            "water_volume": volume,
            "volume_error": balance / budget.start_volume,
            "momentum_error": drift / budget.exchanged(sim),
            "dt": dt,
            "stride": report.stride,
            "iterations": float(report.iterations),
            "outer_level": self.outer_level(sim),
            "pressure_force": report.pressure_force,
            **dict.fromkeys(UNSEEN, 0.0),
            **report.unseen,
            "clipped_volume": budget.clipped,
            "kinetic_energy": moving,
            "potential_energy": height - budget.start_energy[1] - budget.energy_in,
            "energy_lost": before - moving - height - pressed,
            "beach_energy": budget.beach_energy,
            "pocket_volume": float(2.0 * np.pi * air.volume.sum()),
            "pocket_pressure": float(air.pressure.max(initial=0.0)),
            "pocket_force": report.pocket_force,
            "pocket_energy": pressed,
            "pocket_air": float(2.0 * np.pi * air.air.sum()),
            "vented_air": budget.vented_air,
            **self.inner.row(sim),
        }

    def hole_volume(self, sim: Simulation) -> float:
        """Water that came up through the hole during the last step [m^3]."""
        hole = sim.layout.hole
        return float(2.0 * np.pi * np.sum(sim.ops.scratch.flux_z[hole.rows, hole.plug]))

    def over_rim(self, sim: Simulation) -> bool:
        """Whether water stands half a cell deep all across the rim."""
        i, j = self.crest
        volume, water = sim.ops.solid.volume[i, j], sim.state.water[i, j]
        return bool(np.all(water > 0.5 * volume))

    def outer_level(self, sim: Simulation) -> float:
        """Mean level beside the bowl above the undisturbed surface [m]."""
        water = float(2.0 * np.pi * np.sum(sim.state.water[self.beside]))
        bottom = float(sim.mesh.z_f[sim.state.bottom])
        return bottom + water / self.ring_area - sim.draft


def make_diagnostics(sim: Simulation) -> Diagnostics:
    """Find the cells that the readings need."""
    grid, bowl = sim.ops.grid, sim.case.bowl
    carried = sim.layout.bowl
    first = int(np.searchsorted(grid.r_f, bowl.outer[:, 0].max() * (1.0 + 1e-9)))
    area = np.pi * (grid.r_f[-1] ** 2 - grid.r_f[first] ** 2)
    rim = int(np.argmin(np.abs(grid.z_f - bowl.rim_height)))
    crest = np.flatnonzero((grid.r_c > carried.inner[-1, 0]) & (grid.r_c < bowl.rim_radius))
    return Diagnostics(
        beside=slice(first, None),
        ring_area=float(area),
        crest=(crest, rim),
        inner=make_inner_diagnostics(sim),
    )


def centre_fields(sim: Simulation) -> dict[str, Array]:
    """Fields at cell centres for a frame, each (nr, nz); zero where there is no water.

    They belong to the grid as it was at release: over a floor, whose rows change, see `floor.py`.
    """
    state, volume = sim.state, sim.mesh.volume
    is_open = volume > 0.0
    fraction = np.where(is_open, state.water / np.where(is_open, volume, 1.0), 0.0)
    wet = fraction > DROP
    share = np.clip(fraction, 0.0, 1.0)
    fields = {
        "pressure": np.where(wet, state.pressure, 0.0),
        "u_r": np.where(wet, 0.5 * (state.u_r[1:] + state.u_r[:-1]), 0.0),
        "u_z": np.where(wet, 0.5 * (state.u_z[:, 1:] + state.u_z[:, :-1]), 0.0),
    }
    if sim.ops.floor is not None:
        on_still_lines(state, sim.ops.floor, share, tuple(fields.values()))
    return {"volume_fraction": share, **fields}
