"""Heave with slug inertia: bowl, slug in the hole and inner water solved together.

State: draft D, speed V = dD/dt, inner level z, flow Q through the hole, and the momentum J of the
jet in the bowl that has not mixed out yet. With s = z - z_outer_edge, h = z - z_inner_edge (not
below 0), inner water M_w, inner surface A_s, mean section A_m = volume above the base / h, and M_ij
the outer water's inertia (added_mass.py), every instant solves

    (m + M_w + M_11) V' - (rho s + M_12) Q'
        = (m + M_w) g - rho g V_hull(D) - drag + rho Q (v_jet - V) - J / tau
    -(rho s + M_12) V' + [M_22 + rho (l / a + h / A_m)] Q'
        = rho [g (D - z) + V^2 / 2 - loss] + (a / A_m) J / (tau A_m)
    J' = rho Q (v_jet - Q / A_s) - J / tau,    z' = Q / A_s.

The first is the momentum of bowl and inner water, the second Bernoulli's equation along the slug
from still water to the jet, in the accelerating bowl; the matrix is symmetric, from one kinetic
energy. l is the hole's wetted length plus the inner end correction; v_jet and loss come from
discharge.py. The jet's excess momentum J goes into the weight of the water it throws up, within
tau = sqrt(2 head_0 / g), in which a fountain under the starting head rises. Of the pressure with
which that water comes back the hole gets the share a / A_m. Not written above: waves (waves.py)
and the outer water that a widening hull picks up as it enters.

Both limits are exact: through a narrow hole Q is Torricelli's, and for a thin bowl without a base
the water drops out of the first equation, which becomes the falling body's. Derivation, with a
figure of the control volumes: solver/README.md.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.drag import drag_force
from sinkbowl.reduced.integrate import Kink, State
from sinkbowl.reduced.start import beginning, share_of_rest
from sinkbowl.reduced.waves import wave_damping
from sinkbowl.statics.added_mass import inner_end_correction
from sinkbowl.statics.vessel import Outside, Vessel

SHALLOW = 1e-6
"""Level above the base, over the rim's height, below which the mean section is the base's."""

NUDGE = 5e-3
"""Step of the draft, over the rim's radius, with which the outer inertia is differentiated: two
chords of a round outline, whose corners would otherwise show."""


LEAST_HEAD = 0.01
"""Starting head, over the rim's height, that at least counts as the scale of the motion."""


class Inertia(NamedTuple):
    """Symmetric matrix of the speeds V and Q: bowl [kg], coupling [kg/m^2], slug [kg/m^4]."""

    bowl: float
    coupling: float
    slug: float

    def accelerations(self, force: float, pressure: float) -> tuple[float, float]:
        """V' [m/s^2] and Q' [m^3/s^2] under a force [N] and a pressure [Pa]; also for impulses."""
        determinant = self.bowl * self.slug - self.coupling**2
        return (
            (self.slug * force + self.coupling * pressure) / determinant,
            (self.coupling * force + self.bowl * pressure) / determinant,
        )


class _Inside(NamedTuple):
    """Inner water: volume [m^3], surface [m^2] and mean section above the base [m^2]."""

    volume: float
    surface: float
    section: float


class Loads(NamedTuple):
    """What sets bowl and slug in motion at one state.

    force : on bowl and inner water, downwards [N]
    pressure : along the slug, into the bowl [Pa]
    inertia : matrix of the speeds
    source, returned : rates at which the jet's momentum comes in and mixes out [N]
    surface, section : inner surface, and mean section above the base [m^2]
    """

    force: float
    pressure: float
    inertia: Inertia
    source: float
    returned: float
    surface: float
    section: float


class HeaveEquations:
    """Rates of the state (D, V, z, Q, J) of one case."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.vessel = Vessel(case)
        self.law = discharge(case)
        self.density = case.water.density
        self.head = max(beginning(case).head, LEAST_HEAD * self.vessel.rim)
        self.mixing_time = math.sqrt(2.0 * self.head / GRAVITY)
        self.base_area = self.vessel.water_area(self.vessel.inner_edge)

    @property
    def scales(self) -> tuple[float, ...]:
        """Sizes of the state's components."""
        speed = math.sqrt(2.0 * GRAVITY * self.head)
        flow = self.law.area * speed
        return (self.head, speed, self.head, flow, self.density * flow * speed * self.mixing_time)

    @property
    def kinks(self) -> list[Kink]:
        """Drafts and inner levels at which an area jumps."""
        v = self.vessel
        return [Kink(0, z) for z in v.outer_steps] + [Kink(2, z) for z in v.inner_steps]

    def rates(
        self,
        state: State,
        rim_flow: float = 0.0,
        rim_wet: bool = False,
        spilling: bool = False,
    ) -> list[float]:
        """Time derivatives of the state.

        Parameters
        ----------
        state : (5,) D [m], V [m/s], z [m], Q [m^3/s], J [kg m/s]
        rim_flow : inflow over the rim, from rest [m^3/s]
        rim_wet : whether water has come over the rim, so that no dry space above it carries
        spilling : whether the bowl is full and what it takes in spills over
        """
        loads, flow = self.loads(state, rim_flow, rim_wet), float(state[3])
        bowl, slug = loads.inertia.accelerations(loads.force, loads.pressure)
        rise = 0.0 if spilling else (flow + rim_flow) / loads.surface
        return [float(state[1]), bowl, rise, slug, loads.source - loads.returned]

    def loads(self, state: State, rim_flow: float = 0.0, rim_wet: bool = False) -> Loads:
        """Force on the bowl, pressure on the slug and what both have to move; as `rates`."""
        draft, speed, z, flow, excess = state
        v, rho = self.vessel, self.density
        z = min(z, v.rim)
        inside, outside = self._inside(z), v.outside(draft)
        jet, loss = self.law.jet(flow, speed, outside.radius)
        hull = min(outside.displaced, v.hull_volume) if rim_wet else outside.displaced
        carried = jet - speed if flow > 0.0 else flow / inside.surface - jet
        returned = excess / self.mixing_time
        waves = wave_damping(outside, rho) * (speed - flow / outside.area)
        entry_force, entry_pressure = self._entry(draft, speed, flow, outside)
        force = (
            GRAVITY * (v.mass + rho * (inside.volume - hull))
            - drag_force(outside, v.hole_area, rho, speed)
            + rho * (flow * carried - rim_flow * speed)
            - returned
            - waves
            - entry_force
        )
        pressure = (
            rho * (GRAVITY * (draft - z) + 0.5 * speed * abs(speed) - loss)
            + returned * self.law.area / inside.section**2
            + waves / outside.area
            - entry_pressure
        )
        source = rho * flow * (jet - flow / inside.surface) if flow > 0.0 else 0.0
        inertia = self._inertia(z, inside, outside)
        return Loads(force, pressure, inertia, source, returned, inside.surface, inside.section)

    def inertia(self, draft: float, z: float) -> Inertia:
        """Inertia of bowl, slug and inner water."""
        return self._inertia(z, self._inside(z), self.vessel.outside(draft))

    def observe(self, state: State) -> tuple[float, ...]:
        """Draft, speed, inner volume, inner level, head and hole flow."""
        draft, speed, z, flow, _ = (float(value) for value in state)
        level = min(z, self.vessel.rim)
        return (
            draft, speed, self.vessel.water(z), level - self.vessel.inner_edge, draft - level, flow,
        )  # fmt: skip

    def rest(self, state: State) -> float:
        """Rises through 0 as the bowl comes to rest, see `share_of_rest`."""
        draft, speed, z, flow, _ = state
        return share_of_rest(draft - z, speed, flow / self.law.area, self.head)

    def _inside(self, z: float) -> _Inside:
        v = self.vessel
        (surface, water), depth = v.inside(z), z - v.inner_edge
        deep = depth > SHALLOW * v.rim
        section = (water - v.plug_volume) / depth if deep else self.base_area
        return _Inside(water, surface, section)

    def _inertia(self, z: float, inside: _Inside, outside: Outside) -> Inertia:
        v, rho, outer = self.vessel, self.density, outside.inertia
        depth = max(z - v.inner_edge, 0.0)
        wetted = min(z - v.outer_edge, self.law.length)
        end = inner_end_correction(v.hole_radius, math.sqrt(inside.section / math.pi))
        # Under a shallow layer the end correction cannot be longer than the layer is deep.
        end = end * math.tanh(depth / end) if end > 0.0 else 0.0
        return Inertia(
            v.mass + rho * inside.volume + outer.bowl,
            rho * (z - v.outer_edge) + outer.cross,
            outer.hole + rho * ((wetted + end) / self.law.area + depth / inside.section),
        )

    def _entry(
        self, draft: float, speed: float, flow: float, outside: Outside
    ) -> tuple[float, float]:
        """Force [N] and pressure [Pa] that set further outer water in motion as a hull widens.

        d(M V)/dt of a bowl that enters (von Karman 1929, NACA TN 321); water that a rising hull
        leaves behind keeps its momentum.
        """
        if speed <= 0.0 or draft >= self.vessel.rim:
            return 0.0, 0.0
        step = NUDGE * self.vessel.rim_radius
        if self.vessel.outer_area(draft + step) == outside.area:
            return 0.0, 0.0
        pairs = zip(outside.inertia, self.vessel.outside(draft + step).inertia, strict=True)
        bowl, cross, hole = (speed * (below - here) / step for here, below in pairs)
        return bowl * speed - cross * flow, hole * flow - cross * speed
