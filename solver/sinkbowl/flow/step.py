"""One time step of water and bowl.

Velocities are half a step ahead of the water (leap-frog): water and bowl move with the velocity,
then the velocity is advanced with the pressure of the new surface, by a `stride` to half a step
ahead, also where the step's length changes. Convection is evaluated with the velocity extrapolated
half a stride ahead, which makes it second order in time away from the surface. One pressure solve
makes the water divergence-free and satisfies the bowl's momentum equation, M dV/dt = 2 pi sum(p h)
- M g + unseen, where `unseen` are the forces of `effects` and of the water in half cells. The
bowl's speed and the pressure of each pocket of closed-off air are eliminated as rank-one terms.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from operator import add

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import RunError

from .effects import Exchange
from .effects.floor import place_floor
from .effects.no_slip import apply_no_slip
from .effects.orifice_model import HoleStep, feel_back_pressure, hole_step
from .effects.pockets import ClosedAir
from .kernels import (
    conjugate,
    extension,
    interface,
    momentum,
    pockets,
    pressure,
    transport,
)
from .operators import FlowOperators
from .state import FlowState, HeaveBody

AIR_LAYERS = 5
"""Layers of air faces with an extrapolated velocity: water moves less than half a cell per step,
convection uses two faces, and falling water needs some."""

DROP = 1e-3
"""Fraction of water above which an air cell moves like a drop, counts in the Courant number and is
shown; less is residue of the transport."""

CATCH_UP = 0.1
"""Maximum difference of stride and step, as a share of the step, so that convection stays within
the Courant number: with 0.5 the jet of a fine orifice broke up at a change of the step."""

VOID_TIME_STEPS = 10.0
"""Steps in which a void smaller than a cell is closed deep inside the water: at once it would be a
pressure pulse, and otherwise it would stay for ever."""

PASSES = 3
"""Passes over all cells to remove overfilling; the rest is driven out by the next pressure
solve."""


@dataclass(frozen=True)
class StepReport:
    """Effects of a step, for the conservation budgets.

    stride: time over which forces acted on the velocities [s]; water_in: water through bottom and
    top [m^3]; clipped: water moved by `give_back` [m^3]; pressure_force: of the pressures at cell
    centres on the bowl, upwards [N]; iterations: of the pressure solve; unseen: the other forces on
    the bowl, upwards, by their column of the history [N]; impulse, energy: see `Exchange`; air: the
    pockets at the step's end, and pocket_force: of theirs on the bowl, upwards [N].
    """

    stride: float
    water_in: float
    clipped: float
    pressure_force: float
    iterations: int
    unseen: Mapping[str, float] = field(default_factory=dict)
    impulse: float = 0.0
    energy: float = 0.0
    air: ClosedAir = field(default_factory=ClosedAir)
    pocket_force: float = 0.0


@dataclass(frozen=True)
class Stride:
    """A stride of the velocities, and the parts of its pressure solve.

    length [s]; hole: the part of an unresolved hole, None for a resolved one; air: the pockets of
    closed-off air.
    """

    length: float
    hole: HoleStep | None = None
    air: ClosedAir = field(default_factory=ClosedAir)


def added_up(parts: Iterable[float]) -> float:
    """Sum in order: `sum` rounds differently from Python 3.12 on."""
    return reduce(add, parts, 0.0)


def advance(state: FlowState, body: HeaveBody, dt: float, ops: FlowOperators) -> StepReport:
    """Advance water and bowl by one time step dt [s]."""
    water_in, clipped = carry_water(state, dt, ops)
    state.height += dt * state.speed
    locate_surface(state, ops)
    air = follow_pockets(state, ops)
    length = next_stride(dt, state.lead, first=state.step == 0)
    stride = Stride(length, hole_step(ops.hole, state, length) if ops.hole else None, air)
    predict_velocity(state, stride, ops)
    exchanged = [force.act(state, ops.mesh_of(state), length) for force in ops.forces]
    unseen = unseen_forces(state, body, stride, ops, exchanged)
    lift = added_up(unseen.values())
    iterations, pressed, by_air = solve_pressure_and_heave(state, body, lift, stride, ops)
    if ops.hole:
        feel_back_pressure(ops.hole, state, body.inner_level, dt)
    extend_velocity(state, ops)
    state.time += dt
    state.dt, state.stride = dt, length
    state.lead += length - dt
    state.step += 1
    return StepReport(
        stride=length,
        water_in=water_in,
        clipped=clipped,
        pressure_force=pressed,
        iterations=iterations,
        unseen=unseen,
        impulse=added_up(exchange.impulse for exchange in exchanged),
        energy=added_up(exchange.energy for exchange in exchanged),
        air=air,
        pocket_force=by_air,
    )


def next_stride(dt: float, lead: float, first: bool = False) -> float:
    """Time by which velocities, `lead` ahead of the water, advance in a step dt [s].

    Target: half a step ahead of the water's new time; reached at once in the `first` step, from
    rest, later approached by a share of the step.
    """
    if first:
        return 1.5 * dt
    return min(max(1.5 * dt - lead, (1.0 - CATCH_UP) * dt), (1.0 + CATCH_UP) * dt)


def carry_water(state: FlowState, dt: float, ops: FlowOperators) -> tuple[float, float]:
    """Move the water with the velocity relative to the grid; returns inflow and clipped volume.

    The order of the two directions alternates from step to step.
    """
    mesh, s = ops.mesh_of(state), ops.scratch
    if ops.pockets:
        ops.pockets.water_before[:] = state.water
    transport.half_full(mesh, state.water, s.mask)
    surface = (mesh, state.water, state.normal, state.offset)
    for sweep in range(2):
        sign = 1.0 if sweep == 0 else -1.0
        if sweep == 1:
            _place_surface(state, ops)
        if (state.step + sweep) % 2 == 0:
            transport.flux_r(*surface, state.u_r, dt, s.polygons, s.flux_r)
            if sweep == 0:
                transport.dilation(mesh.area_r, state.u_r, 0.0, dt, 1, 0, s.dilation)
            transport.apply_flux(s.flux_r, s.mask, s.dilation, sign, 1, 0, state.water)
        else:
            transport.flux_z(*surface, state.u_z, state.speed, dt, s.polygons, s.flux_z)
            if sweep == 0:
                transport.dilation(mesh.area_z, state.u_z, state.speed, dt, 0, 1, s.dilation)
            transport.apply_flux(s.flux_z, s.mask, s.dilation, sign, 0, 1, state.water)
    if ops.floor is not None:
        height = state.floor - dt * state.speed
        place_floor(state, ops.floor, height, ops.density * GRAVITY)
        mesh = ops.mesh_of(state)
    clipped = transport.give_back(mesh, state.water, s.flux_r, s.flux_z, PASSES)
    water_in = float(np.sum(s.flux_z[:, 0]) - np.sum(s.flux_z[:, -1]))
    return 2.0 * np.pi * water_in, 2.0 * np.pi * clipped


def _place_surface(state: FlowState, ops: FlowOperators) -> None:
    mesh, surface = ops.mesh_of(state), (state.extended, state.normal, state.offset)
    interface.reconstruct(mesh, state.water, ops.cut, ops.crossed, *surface, ops.scratch.polygons)


def locate_surface(state: FlowState, ops: FlowOperators) -> None:
    """Reconstruct the surface and mark the cells that the pressure equation covers."""
    _place_surface(state, ops)
    state.top = pressure.mark_liquid(ops.mesh_of(state), state.extended, state.liquid)


def follow_pockets(state: FlowState, ops: FlowOperators) -> ClosedAir:
    """Find closed-off air, and the amount in each pocket."""
    return ops.pockets.follow(state, ops.mesh_of(state)) if ops.pockets else ClosedAir()


def predict_velocity(state: FlowState, stride: Stride, ops: FlowOperators) -> None:
    """Convection with the velocity half a stride ahead; keeps the old velocity for the next step.

    Convection is left out where water converges on an unresolved hole.
    """
    mesh, s = ops.mesh_of(state), ops.scratch
    length = stride.length
    ratio = 0.5 * length / state.stride if state.stride > 0.0 else 0.0
    for u, old, known, known_old, ahead in (
        (state.u_r, state.u_r_old, state.known_r, state.known_r_old, s.ahead_r),
        (state.u_z, state.u_z_old, state.known_z, state.known_z_old, s.ahead_z),
    ):
        extension.extrapolate_in_time(u, old, known, known_old, ratio, ahead)
    momentum.convect_r(mesh, s.ahead_r, s.ahead_z, state.known_r, state.speed, length, s.next_r)
    momentum.convect_z(mesh, s.ahead_r, s.ahead_z, state.known_z, state.speed, length, s.next_z)
    change_r = np.subtract(s.next_r, s.ahead_r, out=s.next_r)
    change_z = np.subtract(s.next_z, s.ahead_z, out=s.next_z)
    if stride.hole is not None:
        change_r[stride.hole.still[0]] = 0.0
        change_z[stride.hole.still[1]] = 0.0
    state.u_r += change_r
    state.u_z += change_z


def unseen_forces(
    state: FlowState,
    body: HeaveBody,
    stride: Stride,
    ops: FlowOperators,
    exchanged: Sequence[Exchange],
) -> dict[str, float]:
    """Upward forces on the bowl besides pressures at cell centres, by column of the history [N]."""
    felt = {
        "buoyancy_correction": 0.0 if body.held else hydrostatic_defect(state, body, ops),
        "hole_force": stride.hole.force if stride.hole else 0.0,
    }
    for force, exchange in zip(ops.forces, exchanged, strict=True):
        name = force.column
        if name is not None:
            felt[name] = felt[name] + exchange.on_bowl if name in felt else exchange.on_bowl
    return felt


def hydrostatic_defect(state: FlowState, body: HeaveBody, ops: FlowOperators) -> float:
    """Upward hydrostatic force on the bowl that is missing in cell-centre pressures [N]."""
    weight = ops.density * body.gravity
    if weight == 0.0:
        return 0.0
    water = (state.extended, state.liquid, state.pressure)
    walls = (ops.solid.pieces, ops.solid.piece_cell, ops.solid.row_cell)
    lift = pressure.hydrostatic_defect(ops.mesh_of(state), *water, weight, *walls)
    return float(2.0 * np.pi * weight * lift)


def solve_pressure_and_heave(
    state: FlowState, body: HeaveBody, lift: float, stride: Stride, ops: FlowOperators
) -> tuple[int, float, float]:
    """Project the water and advance the bowl's speed by a stride in one solve.

    lift: upward force on the bowl not in the cell pressures [N].
    Returns iterations and the upward forces of water and pockets on the bowl [N].
    """
    mesh, s, solver = ops.mesh_of(state), ops.scratch, ops.solver
    dt, hole, air = stride.length, stride.hole, stride.air
    scale = dt / ops.density
    pressure.add_gravity(mesh.area_z, -dt * body.gravity, state.u_z)
    if hole is not None:
        hole.apply_pressure_loss(state.u_z, state.speed, dt, body.gravity)
    if not body.held:
        state.speed += dt * ((lift + body.extra_lift) / body.mass - body.gravity)
    wet, velocity = (state.extended, state.liquid), (state.u_r, state.u_z, state.speed)
    pressure.assemble(mesh, *wet, scale, solver.right, solver.above, solver.fixed)
    if hole is not None:
        hole.weaken(solver.above)
    pressure.divergence(mesh, *velocity, state.liquid, s.source)
    rates = (1.0 / dt, 1.0 / (VOID_TIME_STEPS * dt))
    pressure.divergence_wanted(mesh, state.water, *wet, ops.cut, *rates, s.wanted)
    pressure.prepare(mesh, state.liquid, s.wanted, s.source, solver.heave, state.pressure)
    sigma = 0.0 if body.held else 2.0 * np.pi * dt / body.mass
    terms = solver.pockets
    terms.number[: len(air.number)] = air.number
    pockets.couple(mesh, *wet, state.pocket, air.count, *velocity, scale, terms)
    air.enter(terms, dt)
    pockets.eliminate(terms, sigma, solver.heave.ravel(), s.source.ravel())
    iterations, _ = solver.solve(s.source, solver.heave, sigma, state.pressure, state.top)
    lift = conjugate.inner(state.pressure.ravel(), solver.heave.ravel())
    force = float(2.0 * np.pi * lift)
    cells = (state.liquid.ravel(), state.pocket.ravel(), state.pressure.ravel())
    by_air = 2.0 * np.pi * pockets.pocket_pressures(terms, sigma, lift, *cells)
    if not body.held:
        state.speed += dt * (force + by_air) / body.mass
    if not np.isfinite(force):
        raise RunError("the pressure is not finite")
    water = (*wet, state.pressure)
    pressure.correct(mesh.area_r, mesh.dr, mesh.r_c, *water, scale, 1, 0, state.u_r)
    predicted = hole.hole.faces(state.u_z) if hole is not None else None
    pressure.correct(mesh.area_z, mesh.dz, mesh.z_c, *water, scale, 0, 1, state.u_z)
    if hole is not None and predicted is not None:
        hole.correct(predicted, state.u_z)
    return iterations, force, by_air


def extend_velocity(state: FlowState, ops: FlowOperators) -> None:
    """Extend the water's velocity into the air and into the walls."""
    mesh, walls = ops.mesh_of(state), ops.walls
    extension.mark_wet_faces(mesh, state.liquid, state.known_r, state.known_z)
    for u, known in ((state.u_r, state.known_r), (state.u_z, state.known_z)):
        extension.extend(u, known, state.top + 1, AIR_LAYERS, ops.scratch.front)
    velocity = (state.u_r, state.u_z, state.known_r, state.known_z)
    extension.settle_far_air(mesh, state.water, DROP, *velocity)
    faces = (walls.r, walls.normal_r, walls.z, walls.normal_z)
    extension.fill_wall_faces(*faces, state.speed, *velocity)
    if ops.no_slip is not None:
        apply_no_slip(state, ops.no_slip)
