"""Readings of a simulation after each step, and the budgets of volume, momentum and energy.

Volume: change of the water in the domain against inflow through bottom and top.
Vertical momentum of water and bowl together, upwards:

    d(P_water + M V)/dt = p_bottom A_bottom - (rho V_water + M) g + F_ring + F_beach,

the lab velocity being zero on the bottom plane; the hydrostatic defect of the cell-centre pressures
is the weight of water in half cells at walls and acts between water and bowl. The momentum error is
the difference of the two sides over the impulse of the bowl's weight since release, plus the
initial momentum of a pushed or dropped bowl. It measures the scheme (the convection is not in
conservation form); the bowl's own equation holds to the pressure tolerance.

Energy of water and bowl: kinetic, the mean of the velocities half a step before and after the
water, and potential against the start, heights from the undisturbed
surface. Water that enters through the bottom plane is at rest and has potential energy; ring and
thickening do work on the bowl; pockets of closed-off air store the work of compression. The missing
energy was lost: in eddies too fine for the grid, in splashes, in the discharge law of an unresolved
hole, in vented pockets, and on the beach (known separately).

Air: the amount taken from the atmosphere equals that in the pockets plus that given back.

Readings inside the bowl tell a reduced model's terms apart: upward momentum of the inner water,
what is thrown above the rim included; the jet's thrust, pressure and momentum flux through the hole
at its inner edge; the pressure on the base beside the hole, that a pool would press with and water
in the air does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common import GRAVITY

from .effects.floor import on_still_lines
from .grid import Array
from .kernels import sums
from .simulation import Simulation
from .step import DROP, StepReport, added_up

CLEAR = 2  # cells between the hole's edge and the ring of the pressure reading
RING, LEAST_RING = 0.3, 3  # width of that ring over the hole's radius, and its minimum in cells

UNSEEN = ("buoyancy_correction", "hole_force", "viscous_force")
"""Columns of the history for the forces on the bowl that some runs do not have."""


@dataclass
class ConservationBudget:
    """Running sums since release: water let in [m^3], clipped [m^3], impulse of forces [N s],
    energy brought in [J].

    volume: water in the tub after the last step [m^3]; beach_energy: lost on the beach [J]; moving:
    kinetic energy after the last step [J]; draft: after it [m]; closed_air, vented_air: air that
    pockets took from the atmosphere and gave back to it [m^3].
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
        """Impulse of the weight since release plus the initial momentum [N s]."""
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
    """Fixed data of the readings.

    beside: rows of the open water beside the bowl, ring_area
    its area [m^2]; crest: the cells just above the rim. within, above (nr, nz): cells in the bowl
    or above it, and the latter alone; foot (n, 2): the lowest cells of the ring beside the hole;
    hole_area, foot_area (n,): per radian [m^2]; foot_depth (n,): of their centres below the hole's
    inner edge [m].
    """

    beside: slice
    ring_area: float
    crest: tuple[NDArray[np.int64], int]
    within: NDArray[np.bool_]
    above: NDArray[np.bool_]
    foot: NDArray[np.int64]
    hole_area: Array
    foot_area: Array
    foot_depth: Array

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
            **self.inner_row(sim),
        }

    def inner_row(self, sim: Simulation) -> dict[str, float]:
        """Part of a row of the history: readings inside the bowl."""
        state, density = sim.state, 2.0 * np.pi * sim.case.water.density
        moving = sums.upward_momentum_where(state.water, state.u_z, self.within)
        return {
            "inner_momentum": density * moving,
            "aloft_volume": 2.0 * np.pi * sums.total_where(state.water, self.above),
            "hole_thrust": self._thrust(sim),
            "foot_pressure": self._foot_pressure(sim),
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

    def _thrust(self, sim: Simulation) -> float:
        """Pressure and momentum flux relative to the bowl through the hole [N]."""
        state, volume, hole = sim.state, sim.ops.solid.volume, sim.layout.hole
        density, i, j = sim.case.water.density, hole.rows, hole.edge
        below = state.water[i, j - 1] / volume[i, j - 1]
        wet = np.clip(0.5 * (below + state.water[i, j] / volume[i, j]), 0.0, 1.0)
        velocity = state.u_z[i, j] - state.speed
        height = sim.ops.grid.z_c[j] - sim.ops.grid.z_f[j]
        moved = state.pressure[i, j] + density * GRAVITY * height
        pressure = np.where(state.liquid[i, j], moved, 0.0)
        flux = density * wet * velocity * np.abs(velocity)
        return float(2.0 * np.pi * np.sum((pressure + flux) * self.hole_area))

    def _foot_pressure(self, sim: Simulation) -> float:
        """Mean pressure beside the hole, at its inner edge's height; the air's where dry [Pa]."""
        if not len(self.foot):
            return 0.0
        i, j = self.foot.T
        weight = sim.case.water.density * GRAVITY
        depth = np.where(sim.state.liquid[i, j], self.foot_depth, 0.0)
        pressure = sim.state.pressure[i, j] - weight * depth
        return float(np.sum(pressure * self.foot_area) / np.sum(self.foot_area))


def make_diagnostics(sim: Simulation) -> Diagnostics:
    """Find the cells that the readings need."""
    grid, solid, hole, bowl = sim.ops.grid, sim.ops.solid, sim.layout.hole, sim.case.bowl
    first = int(np.searchsorted(grid.r_f, bowl.outer[:, 0].max() * (1.0 + 1e-9)))
    ring_area = np.pi * (grid.r_f[-1] ** 2 - grid.r_f[first] ** 2)
    rim = int(np.argmin(np.abs(grid.z_f - bowl.rim_height)))
    inner_rim = sim.layout.bowl.inner[-1, 0]
    crest = np.flatnonzero((grid.r_c > inner_rim) & (grid.r_c < bowl.rim_radius))
    above = (grid.z_c[None, :] > bowl.rim_height) & (grid.r_c[:, None] < inner_rim)
    level, area, cell = bowl.inner_edge_height, grid.r_c * grid.dr, float(grid.dr[0])
    low = hole.radius + CLEAR * cell
    high = low + max(RING * hole.radius, LEAST_RING * cell)
    pool = sim.inside & (solid.volume > 0.0) & (grid.z_c[None, :] > level)
    ring = [i for i in np.flatnonzero((grid.r_c > low) & (grid.r_c < high)) if pool[i].any()]
    foot = np.array([(i, int(np.argmax(pool[i]))) for i in ring], dtype=np.int64).reshape(-1, 2)
    return Diagnostics(
        beside=slice(first, None),
        ring_area=float(ring_area),
        crest=(crest, rim),
        within=sim.inside | above,
        above=above,
        foot=foot,
        hole_area=area[hole.rows],
        foot_area=area[foot[:, 0]],
        foot_depth=level - grid.z_c[foot[:, 1]],
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
