"""What is read off a voyage after each step, and the ledgers of volume and momentum.

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
law of a closed hole, where pockets are vented, on the beach, whose share is known.

Air: what pockets took from the atmosphere's air is what they hold and what they gave back.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.constants import GRAVITY

from .effects.floor import on_still_lines
from .grid.grid import Array
from .inner_gauge import InnerGauge, make_inner_gauge
from .kernels import sums
from .step import DROP, StepReport
from .voyage import Voyage

UNSEEN = ("buoyancy_correction", "hole_force", "viscous_force")
"""Columns of the history for the forces on the bowl that do not act in every run."""


@dataclass
class Ledgers:
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

    def book(self, voyage: Voyage, report: StepReport, lift: float) -> None:
        """Add one step; `lift` is the ring's and the thickening's force during it [N]."""
        self.water_in += report.water_in
        self.clipped += report.clipped
        self.volume = _water_volume(voyage)
        case = voyage.case
        weight = (case.water.density * self.volume + case.total_mass) * GRAVITY
        push = _bottom_thrust(voyage) + lift - weight
        self.impulse += report.stride * push + report.impulse
        self.beach_energy += report.energy
        self.closed_air += 2.0 * np.pi * report.air.closed
        self.vented_air += 2.0 * np.pi * report.air.vented
        sunk, self.draft = voyage.draft - self.draft, voyage.draft
        height = voyage.mesh.z_f[voyage.state.bottom] - voyage.draft + 0.5 * sunk
        brought = case.water.density * GRAVITY * height * report.water_in
        self.energy_in += brought - lift * sunk

    def exchanged(self, voyage: Voyage) -> float:
        """Weight's impulse since release and the momentum that was brought along [N s]."""
        weight = voyage.case.total_mass * GRAVITY
        return weight * voyage.state.time + abs(self.start_momentum)


def _water_volume(voyage: Voyage) -> float:
    """All the water in the tub [m^3]."""
    return float(2.0 * np.pi * sums.total(voyage.state.water))


def _bottom_thrust(voyage: Voyage) -> float:
    """Upward force of the bottom plane on the water [N]; the half cell to it is hydrostatic."""
    mesh, state, rho = voyage.mesh, voyage.state, voyage.case.water.density
    b = state.bottom
    area = mesh.r_c * mesh.dr
    pressure = state.pressure[:, b] + rho * GRAVITY * 0.5 * mesh.dz[b]
    return float(2.0 * np.pi * np.sum(pressure * area))


def momentum(voyage: Voyage) -> float:
    """Upward momentum of water and bowl [N s]."""
    state, case = voyage.state, voyage.case
    water = 2.0 * np.pi * case.water.density * sums.upward_momentum(state.water, state.u_z)
    return float(water + case.total_mass * state.speed)


def kinetic_energy(voyage: Voyage) -> float:
    """Kinetic energy of water and bowl with the present velocities [J]."""
    state, case = voyage.state, voyage.case
    water = sums.kinetic_energy(state.water, state.u_r, state.u_z)
    return float(2.0 * np.pi * case.water.density * water + 0.5 * case.total_mass * state.speed**2)


def potential_energy(voyage: Voyage) -> float:
    """Potential energy of water and bowl, heights from the undisturbed surface [J]."""
    state, case, mesh = voyage.state, voyage.case, voyage.mesh
    heights = mesh.z_c - voyage.draft
    moment = sums.first_moment(state.water, mesh.volume, heights, mesh.dz)
    water = 2.0 * np.pi * case.water.density * moment
    return GRAVITY * float(water + case.total_mass * state.height)


def open_ledgers(voyage: Voyage) -> Ledgers:
    """Ledgers at release."""
    volume, moving = _water_volume(voyage), kinetic_energy(voyage)
    return Ledgers(
        start_volume=volume,
        start_momentum=momentum(voyage),
        start_energy=(moving, potential_energy(voyage)),
        volume=volume,
        moving=moving,
        draft=voyage.draft,
    )


@dataclass(frozen=True)
class Gauge:
    """Fixed parts of the readings.

    beside: rows of the open water beside the bowl, ring_area
    its area [m^2]; crest: the cells just above the rim; inner: of the water inside.
    """

    beside: slice
    ring_area: float
    crest: tuple[NDArray[np.int64], int]
    inner: InnerGauge

    def row(
        self, voyage: Voyage, ledgers: Ledgers, report: StepReport, dt: float
    ) -> dict[str, float]:
        """One row of the history; names and units as in the result file's table of datasets."""
        bowl, state = voyage.case.bowl, voyage.state
        inner = voyage.inner_volume()
        level = voyage.inner_table.level(inner) - bowl.inner_edge_height
        volume = ledgers.volume
        balance = volume - ledgers.start_volume - ledgers.water_in
        drift = momentum(voyage) - ledgers.start_momentum - ledgers.impulse
        after, height = kinetic_energy(voyage), potential_energy(voyage)
        moving, ledgers.moving = 0.5 * (ledgers.moving + after), after
        before = sum(ledgers.start_energy) + ledgers.energy_in
        air = report.air
        pressed = 2.0 * np.pi * air.energy
        return {
            "t": state.time,
            "draft": voyage.draft,
            "speed": voyage.speed,
            "inner_volume": inner,
            "inner_level": level,
            "head": voyage.draft - bowl.inner_edge_height - level,
            "hole_flow": self.hole_volume(voyage) / dt,
            "water_volume": volume,
            "volume_error": balance / ledgers.start_volume,
            "momentum_error": drift / ledgers.exchanged(voyage),
            "dt": dt,
            "stride": report.stride,
            "iterations": float(report.iterations),
            "outer_level": self.outer_level(voyage),
            "pressure_force": report.pressure_force,
            **dict.fromkeys(UNSEEN, 0.0),
            **report.unseen,
            "clipped_volume": ledgers.clipped,
            "kinetic_energy": moving,
            "potential_energy": height - ledgers.start_energy[1] - ledgers.energy_in,
            "energy_lost": before - moving - height - pressed,
            "beach_energy": ledgers.beach_energy,
            "pocket_volume": float(2.0 * np.pi * air.volume.sum()),
            "pocket_pressure": float(air.pressure.max(initial=0.0)),
            "pocket_force": report.pocket_force,
            "pocket_energy": pressed,
            "pocket_air": float(2.0 * np.pi * air.air.sum()),
            "vented_air": ledgers.vented_air,
            **self.inner.row(voyage),
        }

    def hole_volume(self, voyage: Voyage) -> float:
        """Water that came up through the hole during the last step [m^3]."""
        hole = voyage.layout.hole
        return float(2.0 * np.pi * np.sum(voyage.ops.scratch.flux_z[hole.rows, hole.plug]))

    def over_rim(self, voyage: Voyage) -> bool:
        """Whether water stands half a cell deep all across the rim."""
        i, j = self.crest
        volume, water = voyage.ops.solid.volume[i, j], voyage.state.water[i, j]
        return bool(np.all(water > 0.5 * volume))

    def outer_level(self, voyage: Voyage) -> float:
        """Mean level beside the bowl above the undisturbed surface [m]."""
        water = float(2.0 * np.pi * np.sum(voyage.state.water[self.beside]))
        bottom = float(voyage.mesh.z_f[voyage.state.bottom])
        return bottom + water / self.ring_area - voyage.draft


def make_gauge(voyage: Voyage) -> Gauge:
    """Find the cells that the readings need."""
    grid, bowl = voyage.ops.grid, voyage.case.bowl
    carried = voyage.layout.bowl
    first = int(np.searchsorted(grid.r_f, bowl.outer[:, 0].max() * (1.0 + 1e-9)))
    area = np.pi * (grid.r_f[-1] ** 2 - grid.r_f[first] ** 2)
    rim = int(np.argmin(np.abs(grid.z_f - bowl.rim_height)))
    crest = np.flatnonzero((grid.r_c > carried.inner[-1, 0]) & (grid.r_c < bowl.rim_radius))
    return Gauge(
        beside=slice(first, None),
        ring_area=float(area),
        crest=(crest, rim),
        inner=make_inner_gauge(voyage),
    )


def centre_fields(voyage: Voyage) -> dict[str, Array]:
    """Fields at cell centres for a frame, each (nr, nz); zero where there is no water.

    They belong to the grid as it was at release: over a floor, whose rows change, see `floor.py`.
    """
    state, volume = voyage.state, voyage.mesh.volume
    is_open = volume > 0.0
    fraction = np.where(is_open, state.water / np.where(is_open, volume, 1.0), 0.0)
    wet = fraction > DROP
    share = np.clip(fraction, 0.0, 1.0)
    fields = {
        "pressure": np.where(wet, state.pressure, 0.0),
        "u_r": np.where(wet, 0.5 * (state.u_r[1:] + state.u_r[:-1]), 0.0),
        "u_z": np.where(wet, 0.5 * (state.u_z[:, 1:] + state.u_z[:, :-1]), 0.0),
    }
    if voyage.ops.floor is not None:
        on_still_lines(state, voyage.ops.floor, share, tuple(fields.values()))
    return {"volume_fraction": share, **fields}
