"""The orifice model: an unresolved hole with a discharge law and a resolved jet.

On the grid the hole is as wide as the contracted jet, a_c = C_c a (C_c fixed for a run), so that
the water leaves it with the jet's speed v = Q / a_c and momentum flux rho Q v. Convection is left
out in the hole and within a few radii, where the water converges; its effect, Bernoulli's e(Q) from
rest to the jet with all losses, acts as a force on the hole's faces. With d the distance between
cell centres across a face and w = u - V the speed relative to the bowl, each face of the hole obeys

    (1 + lambda) du/dt = -dp/dz / rho - g - k w + p_b / (rho sum(d)),    k sum(d) w = e(Q),
    lambda sum(d) = C_c l(a) - l(a_c),   l(a) = length of the hole + end corrections.

k w is taken at the new time, the rest of k at the old one, so a face's share of the pressure
gradient in the pressure equation and in the correction is mu = 1 / (1 + lambda + dt k), at most
1 / LEAST_INERTIA. lambda < 0 removes the excess inertia of the narrower opening. e(Q) and C_c come
from the discharge law of the reduced models (reduced/discharge.py).

Back pressure. Discharge coefficients are measured against levels: e(Q) is the head between the
still water outside and the mean level inside. A jet of a few cells drives an eddy that does not
exist in a real pool, and the pressure at its foot exceeds the hydrostatic pressure of that level.
This excess p_b, averaged over the hole and over the time in which the jet moves by a diameter of
the hole, is added to the flow.

Momentum. Three terms act on the water but are not in the equation of the bowl: the force -a_c (rho
e - p_b), the inertia -rho a_c lambda sum(d) du/dt, and the flux rho Q v into the water above, which
no convection brings to the hole. The opposite force acts on the bowl,

    F = a_c [rho e - p_b + rho lambda sum(d) du/dt] - rho Q |Q| / a_c     (upwards),

so the total momentum of water and bowl is conserved. Together with the thrust rho e (a - a_c) on
the lip that narrows the hole, this is rho (a e - Q v): the suction of the converging water at a
real base, by the momentum theorem for the jet. For outflow the water converges inside the bowl, and
the zone without convection is there.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import Array, Grid
from sinkbowl.flow.solid import HolePlace, Solid
from sinkbowl.flow.state import FlowState
from sinkbowl.reduced.discharge import Discharge, law_of_equal
from sinkbowl.reduced.start import beginning
from sinkbowl.statics.added_mass import inner_end_correction

REACH = 3.0  # radius of the zone of convergence in hole radii: farther out the speed is a twentieth

LEAST_REACH = 3.0
"""Minimum of this radius in cells: convection uses two cells, and must not reach the hole from
outside the zone."""

LEAST_INERTIA = 0.3  # minimum share of the grid's own inertia in the hole
LEAST_HEAD = 0.01  # minimum starting head, over the rim's height
SLOW = 1e-6  # speed below which the loss rate no longer depends on it [m/s]

Faces = NDArray[np.bool_]


def contraction(case: Case) -> float:
    """Jet area over hole area C_c under the starting head, the bowl at rest.

    A jet that fills the hole (filling 1) is not contracted.
    """
    law = law_of_equal(case)
    flow = law.flow(starting_head(case))
    speed, _ = law.jet(flow, 0.0, case.bowl.rim_radius)
    return float(flow / (law.area * speed))


def starting_head(case: Case) -> float:
    """Head over the hole of the dry bowl [m], > 0."""
    return max(beginning(case).head, LEAST_HEAD * case.bowl.rim_height)


def narrowed(bowl: Bowl, share: float) -> Bowl:
    """The bowl with its hole narrowed to a share of its area by a lip as thick as the base."""
    radius = bowl.hole_radius * math.sqrt(share)
    lip = [[radius, bowl.outer_edge_height]], [[radius, bowl.inner_edge_height]]
    if share >= 1.0:
        return bowl
    outer, inner = (np.vstack((a, b)) for a, b in zip(lip, (bowl.outer, bowl.inner), strict=True))
    return Bowl.from_outlines(outer, inner, bowl.mass)


@dataclass(frozen=True)
class Orifice:
    """The unresolved hole of one run.

    rows: number of cells across its radius; levels (k,): indices of its z-faces, see `HolePlace`;
    gaps (k,): distance between cell centres across each [m]; areas (rows,): of its faces per radian
    [m^2];
    inertia: 1 + lambda; exit_height: of the centres of the cells above the hole [m]; memory: of the
    back pressure [s]; below, above: r- and z-faces without convection for inflow and for outflow.
    """

    law: Discharge
    rim_radius: float
    density: float
    rows: int
    levels: NDArray[np.int64]
    gaps: Array
    areas: Array
    inertia: float
    exit_height: float
    memory: float
    below: tuple[Faces, Faces]
    above: tuple[Faces, Faces]

    @property
    def area(self) -> float:
        """Area on the grid [m^2]."""
        return float(2.0 * np.pi * self.areas.sum())

    def faces(self, field: Array) -> Array:
        """The hole's faces in an array over z-faces (rows, k)."""
        return field[: self.rows, self.levels]

    def wet(self, liquid: Faces) -> Faces:
        """Faces of the hole between two cells of the pressure equation (rows, k)."""
        return liquid[: self.rows, self.levels - 1] & liquid[: self.rows, self.levels]

    def speed(self, u_z: Array, bowl_speed: float) -> float:
        """Mean speed through the hole relative to the bowl, upwards [m/s]."""
        mean = self.areas @ self.faces(u_z).mean(axis=1) / self.areas.sum()
        return float(mean - bowl_speed)

    def loss_rate(self, through: float, bowl_speed: float) -> float:
        """k [1/s] at a mean speed through the hole [m/s]; bowl_speed upwards [m/s]."""
        speed = math.copysign(max(abs(through), SLOW), through)
        _, energy = self.law.jet(self.area * speed, -bowl_speed, self.rim_radius)
        return energy / speed / float(self.gaps.sum())

    def pressure_at_exit(self, pressure: Array, level: float) -> float:
        """Mean over the hole's exit of the pressure above that of still water to a level [Pa]."""
        j = self.levels[-1]
        mean = float(self.areas @ pressure[: self.rows, j] / self.areas.sum())
        return mean - self.density * GRAVITY * max(level - self.exit_height, 0.0)

    def still_zone(self, through: float) -> tuple[Faces, Faces]:
        """Faces without convection, for a speed through the hole."""
        return self.below if through >= 0.0 else self.above


@dataclass(frozen=True)
class HoleStep:
    """The hole during one step.

    wet (rows, k): its faces between two liquid cells; mobility (rows, k): mu of each; rate: k
    [1/s]; push: p_b / (rho sum(d)) [m/s^2]; force: F on the bowl, upwards [N]; still: r- and
    z-faces without convection.
    """

    hole: Orifice
    wet: Faces
    mobility: Array
    rate: float
    push: float
    force: float
    still: tuple[Faces, Faces]

    def apply_pressure_loss(self, u_z: Array, bowl_speed: float, dt: float, gravity: float) -> None:
        """Apply loss and inertia to a predicted velocity with gravity over dt, in place."""
        fallen = self.hole.faces(u_z)
        held = fallen + (self.hole.inertia - 1.0) * (fallen + dt * gravity)
        held += dt * (self.rate * bowl_speed + self.push)
        u_z[: self.hole.rows, self.hole.levels] = np.where(self.wet, self.mobility * held, fallen)

    def weaken(self, above: Array) -> None:
        """Reduce the coupling of pressures across the hole's faces, in place."""
        above[: self.hole.rows, self.hole.levels - 1] *= self.mobility

    def correct(self, predicted: Array, u_z: Array) -> None:
        """Undo the excess of a full correction of the hole's faces, in place."""
        done = self.hole.faces(u_z) - predicted
        u_z[: self.hole.rows, self.hole.levels] = predicted + self.mobility * done


def hole_step(hole: Orifice, state: FlowState, dt: float) -> HoleStep:
    """The hole's part in a step of dt [s], from the state at its start."""
    wet = hole.wet(state.liquid)
    through = hole.speed(state.u_z, state.speed)
    rate = hole.loss_rate(through, state.speed)
    push = state.back_pressure / (hole.density * float(hole.gaps.sum()))
    mass = hole.density * 2.0 * np.pi * np.outer(hole.areas, hole.gaps) * wet
    braking = rate * (hole.faces(state.u_z) - state.speed) - push
    if state.stride > 0.0:
        braking += (hole.inertia - 1.0) * hole.faces(state.u_z - state.u_z_old) / state.stride
    flux = hole.density * hole.area * through * abs(through) if np.all(wet) else 0.0
    return HoleStep(
        hole=hole,
        wet=wet,
        mobility=np.where(wet, 1.0 / (hole.inertia + dt * rate), 1.0),
        rate=rate,
        push=push,
        force=float(np.sum(mass * braking)) - flux,
        still=hole.still_zone(through),
    )


def feel_back_pressure(hole: Orifice, state: FlowState, level: float, dt: float) -> None:
    """Update the back pressure at the exit for inflow, above that of the level inside [m]."""
    inflow = hole.speed(state.u_z, state.speed) > 0.0 and bool(np.all(hole.wet(state.liquid)))
    felt = hole.pressure_at_exit(state.pressure, level) if inflow else 0.0
    state.back_pressure += min(dt / hole.memory, 1.0) * (felt - state.back_pressure)


def make_orifice(case: Case, grid: Grid, solid: Solid, bowl: Bowl, place: HolePlace) -> Orifice:
    """The unresolved hole of a case on the grid of `bowl`, the narrowed one."""
    rows, levels = place.columns, place.neck
    gaps = grid.z_c[levels] - grid.z_c[levels - 1]
    within = inner_radius(bowl)
    share = (bowl.hole_radius / case.bowl.hole_radius) ** 2
    # of a hole with its outer and inner end corrections, both of the case and on the grid
    lengths = [
        bowl.base_thickness + 0.25 * math.pi * b + float(inner_end_correction(b, within))
        for b in (case.bowl.hole_radius, bowl.hole_radius)
    ]
    extra = (share * lengths[0] - lengths[1]) / float(gaps.sum())
    reach = max(REACH * case.bowl.hole_radius, LEAST_REACH * float(grid.dr[rows - 1]))
    low, high = bowl.outer_edge_height, bowl.inner_edge_height
    radius = bowl.hole_radius + reach
    return Orifice(
        law=law_of_equal(case),
        rim_radius=case.bowl.rim_radius,
        density=case.water.density,
        rows=rows,
        levels=levels,
        gaps=gaps,
        areas=solid.area_z[:rows, place.plug].copy(),
        inertia=max(1.0 + extra, LEAST_INERTIA),
        exit_height=float(grid.z_c[place.exit]),
        memory=case.hole.diameter / math.sqrt(2.0 * GRAVITY * starting_head(case)),
        below=_zone(grid, radius, low - reach, high),
        above=_zone(grid, radius, low, high + reach),
    )


def inner_radius(bowl: Bowl) -> float:
    """Inner radius at half the rim's height [m]."""
    height = 0.5 * (bowl.inner_edge_height + bowl.rim_height)
    return math.sqrt(float(bowl.inner_waterplane(height)) / math.pi)


def _zone(grid: Grid, radius: float, low: float, high: float) -> tuple[Faces, Faces]:
    """r- and z-faces within a radius and between two heights, including both edges."""
    tiny = 1e-9
    columns = (grid.z_c > low) & (grid.z_c < high)
    lines = (grid.z_f > low - tiny) & (grid.z_f < high + tiny)
    return np.outer(grid.r_f < radius, columns), np.outer(grid.r_c < radius, lines)
