"""The simulation of a case: grid, water and bowl, and its initial state.

The bowl is set down at rest at its dry draft with the hole plugged, pushed there by an impulse,
held at a draft with its inside dry or the water level there, or dropped so that its base meets the
still surface at free-fall speed. A bowl without a dry draft (it goes under at once) that is not
held is released with its base just in the water.

Heights of the table of the water inside against its level are 1/4000 of the bowl's height apart,
plus the corners of both outlines; between them the volume is nearly linear, and levels are accurate
to 1e-7 of the bowl's height.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.scatter import UNDISTURBED, Disturbance
from sinkbowl.statics.capillarity import HoleGate, hole_gate
from sinkbowl.statics.hydrostatics import held_level

from .effects.beach import make_beach
from .effects.orifice_model import Orifice, make_orifice
from .effects.pockets import Pockets
from .effects.tension import make_tension
from .grid import Array, Grid
from .kernels import Mesh, extension, sums
from .layout import Layout, lay_out, layer_thickness
from .operators import FlowOperators, make_operators
from .poisson import TENSE_TOLERANCE, TOLERANCE
from .release import complete_state, fill_to, release, wave_levels
from .solid import Solid, closed, inside_cells, place_solid
from .state import FlowState, HeaveBody, empty_state
from .step import DROP, extend_velocity

COURANT = 0.45
"""Largest |u_r| dt/dr + |u_z - V| dt/dz; the split transport needs less than one half."""

WAVE = 0.2  # largest dt in units of sqrt(cell / g), for the gravity waves of one cell's length
GROWTH = 1.2  # largest growth of the time step from one step to the next

IMPACT = 1e-3
"""First step of a pushed or dropped bowl, in units of the largest. The water is still at rest and
would pass through the moving walls before the first pressure solve distributes the impulse."""


@dataclass
class Simulation:
    """One run: its case, grid, water and bowl.

    inside (nr, nz): cells inside the bowl; start_draft [m]; gate: the meniscus that keeps the hole
    shut (`solid.py`), None once open or without surface tension.
    """

    case: Case
    layout: Layout
    ops: FlowOperators
    state: FlowState
    inside: NDArray[np.bool_]
    start_draft: float
    gate: HoleGate | None = None
    behind_gate: FlowOperators | None = field(default=None, repr=False)

    @property
    def mesh(self) -> Mesh:
        """Grid and open parts as they are now."""
        return self.ops.mesh_of(self.state)

    @property
    def draft(self) -> float:
        """Depth of z = 0 under the undisturbed surface [m]."""
        return self.start_draft - self.state.height

    @property
    def speed(self) -> float:
        """Rate of the draft, positive downwards [m/s]."""
        return -self.state.speed

    def body(self) -> HeaveBody:
        """The bowl with the lift that is not on the grid, at its present position."""
        case = self.case
        return HeaveBody(
            mass=case.total_mass,
            gravity=GRAVITY,
            extra_lift=self._ring_lift() - self._misplaced_weight(),
            inner_level=self._inner_level() if self.ops.hole else 0.0,
        )

    @cached_property
    def inner_table(self) -> InnerTable:
        """Water inside against its height."""
        return inner_table(self.case.bowl, self.layout.bowl)

    def _inner_level(self) -> float:
        """Mean height of the inner water above z = 0 [m]."""
        return self.inner_table.level(self.inner_volume())

    def _ring_lift(self) -> float:
        """Buoyancy of the ballast, which is not on the grid [N]."""
        case = self.case
        volume = case.outer_ballast.volume_below(self.draft)
        if case.inner_ballast:
            volume += case.inner_ballast.volume_below(self._inner_level())
        return case.water.density * GRAVITY * volume

    def _misplaced_weight(self) -> float:
        """Weight of the inner water displaced by the grid's thicker wall [N]."""
        carried, real = self.layout.bowl, self.case.bowl
        if carried is real:
            return 0.0
        misplaced = self.inner_table.kept_out(self.inner_volume())
        return self.case.water.density * GRAVITY * misplaced

    def try_gate(self) -> bool:
        """Open the gate if the head is large enough; True if opened."""
        if self.gate is None or self.behind_gate is None:
            return False
        if self.draft - self.case.bowl.inner_edge_height < self.gate.breakthrough_head:
            return False
        self.open_gate()
        extend_velocity(self.state, self.ops)
        return True

    def open_gate(self) -> None:
        """Remove the lid of the hole; the state is unchanged."""
        if self.behind_gate is not None:
            self.ops, self.gate, self.behind_gate = self.behind_gate, None, None

    def notes(self) -> tuple[str, ...]:
        """Sentences on differences between grid and case."""
        found = []
        if self.layout.thickened > 0.0:
            found.append(
                f"The wall is thickened inwards by {1e3 * self.layout.thickened:.2g} mm on the "
                "grid, which needs two cells across the wall; flow.cell is "
                f"{1e3 * self.layout.cell:.3g} mm."
            )
        hole = self.ops.hole
        if hole is not None:
            share = hole.area / self.case.hole.area
            found.append(
                f"The hole is {self.case.hole.diameter / self.layout.cell:.1f} cells across and "
                f"not resolved: its flow follows a discharge law ({hole.law.source}), and its jet "
                f"enters the bowl with {share:.3g} of the hole's area."
            )
        elif self.case.flow.wall == "no-slip" and not self.case.base_gone:
            cells = layer_thickness(self.case) / self.layout.finest
            found.append(
                f"The boundary layer on the base has {cells:.2g} cells of "
                f"{1e3 * self.layout.finest:.2g} mm; five or more are needed for its separation "
                "from the wall" + (' (flow.answer = "good").' if cells < 4.99 else ".")
            )
        if self.case.hole.offset > 0.0:
            found.append(
                "The hole is on the axis on the grid; in the case it is "
                f"{1e3 * self.case.hole.offset:.3g} mm off the axis."
            )
        if hole is None and self.case.hole.edge == "rounded":
            found.append("The hole's edge is sharp on the grid; in the case it is rounded.")
        if self.case.flow.surface_tension and not self.case.base_gone:
            head = hole_gate(self.case).breakthrough_head
            found.append(
                "The meniscus in the dry hole is not resolved: it opens once, at a head of "
                f"{1e3 * head:.2f} mm at the hole's inner edge."
            )
        return tuple(found)

    @property
    def hole_treatment(self) -> str:
        """How the hole is computed: "resolved" or "closed"."""
        return "closed" if self.layout.closed else "resolved"

    @property
    def on_floor(self) -> bool:
        """Whether bowl or ballast are on the tub's floor, as closely as the grid resolves it."""
        floor = self.ops.floor
        if floor is None:
            return False
        return self.state.floor >= min(floor.ceiling, self.case.ballast.lowest)

    def inner_volume(self) -> float:
        """Water inside the bowl, including that in the hole [m^3]."""
        return float(2.0 * np.pi * sums.total_where(self.state.water, self.inside))

    def time_step(self) -> float:
        """Largest stable step [s], with limited growth from step to step."""
        state, ops = self.state, self.ops
        limits = [force.longest_step(state, self.mesh) for force in ops.forces]
        wave = WAVE * np.sqrt(self.mesh.dz.min() / GRAVITY)
        longest = float(min(wave, *limits, courant_step(state, ops)))
        if state.dt > 0.0:
            return min(longest, GROWTH * state.dt)
        return IMPACT * longest if state.speed != 0.0 else longest


def courant_step(state: FlowState, ops: FlowOperators) -> float:
    """Longest step [s] within COURANT; infinite if nothing moves."""
    mesh = ops.mesh_of(state)
    rate = extension.courant_rate(mesh, state.water, DROP, state.u_r, state.u_z, state.speed)
    return COURANT / rate if rate > 0.0 else float(np.inf)


def initialise(case: Case, disturbance: Disturbance = UNDISTURBED) -> Simulation:
    """The initial state of a case, with an optional disturbance.

    Raises CaseError if the grid cannot represent the case.
    """
    layout = lay_out(case)
    grid = layout.grid
    solid = place_solid(grid, layout.bowl.polygon)
    hole = make_orifice(case, grid, solid, layout.bowl, layout.hole) if layout.closed else None
    ops, state = _operators(case, grid, solid, hole), empty_state(grid)
    shut = closed(grid, solid, z_faces=layout.hole.lid(grid))
    inside = inside_cells(grid, shut, layout.bowl.rim_height)
    draft, speed = release(case, layout.cell)
    draft += disturbance.draft
    state.floor = float(grid.z_f[0])
    fill_to(state, ops, _levels(case, grid, draft, disturbance.wave), ~inside)
    if _wet_inside(case):
        fill_to(state, ops, draft, inside)
    sim = Simulation(case, layout, ops, state, inside, draft)
    if case.flow.surface_tension and not case.base_gone:
        sim.gate, sim.behind_gate = hole_gate(case), ops
        sim.ops = _operators(case, grid, shut)
        sim.try_gate()
    complete_state(state, sim.ops)
    state.speed = -speed
    return sim


def _wet_inside(case: Case) -> bool:
    """Whether a held bowl has water inside; a meniscus may keep it out."""
    level = held_level(case)
    if level is None or not case.flow.surface_tension or case.base_gone:
        return level is not None
    return level - case.bowl.inner_edge_height >= hole_gate(case).breakthrough_head


def _levels(case: Case, grid: Grid, draft: float, wave: float) -> float | Array:
    """Water level around the bowl above z = 0, common or per column [m]."""
    if wave == 0.0:
        return draft
    beside = float(np.sqrt(case.bowl.outer_hull.waterplane(draft) / np.pi))
    return draft + wave_levels(grid.r_f, beside, wave)


def _operators(case: Case, grid: Grid, solid: Solid, hole: Orifice | None = None) -> FlowOperators:
    water = case.water
    viscosity = water.viscosity / water.density if case.flow.wall == "no-slip" else 0.0
    beach = tension = None
    if case.flow.beach > 0.0:
        beach = make_beach(grid, case.flow.beach, water.density)
    if case.flow.surface_tension:
        tension = make_tension(grid, water.surface_tension, case.contact_angle, water.density)
    return make_operators(
        grid,
        solid,
        water.density,
        TOLERANCE if tension is None else TENSE_TOLERANCE,
        hole=hole,
        viscosity=viscosity,
        beach=beach,
        tension=tension,
        with_floor=case.flow.tub_depth is not None,
        pockets=Pockets(grid.shape, kept=case.flow.air == "kept"),
    )


LEVELS = 4001  # heights besides the corners


@dataclass(frozen=True)
class InnerTable:
    """levels (n,): heights above z = 0 [m]; volumes (n,): water inside on the grid [m^3];
    missing (n,): additional water in the case's bowl at the same level [m^3].
    """

    levels: Array
    volumes: Array
    missing: Array

    def level(self, held: float) -> float:
        """Level of an inner volume [m]."""
        return float(np.interp(held, self.volumes, self.levels))

    def kept_out(self, held: float) -> float:
        """Water displaced by the grid's thicker wall at an inner volume."""
        return float(np.interp(held, self.volumes, self.missing))


def inner_table(bowl: Bowl, carried: Bowl) -> InnerTable:
    """Table of the bowl on the grid, compared with the case's."""
    even = np.linspace(bowl.outer_edge_height, bowl.rim_height, LEVELS)
    corners = np.concatenate((carried.inner[:, 1], bowl.inner[:, 1]))
    levels = np.union1d(even, corners)
    volumes = np.asarray(carried.inner_volume(levels))
    return InnerTable(levels, volumes, np.asarray(bowl.inner_volume(levels)) - volumes)
