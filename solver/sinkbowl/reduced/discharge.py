"""Discharge law of the hole: contraction, losses and jet.

Head H and flow Q through the hole (area a, diameter d, length t) are related by

    g H = v^2 / (2 C^2) + R Q,   v = Q / a.

A coefficient given in the case is a constant C with R = 0 (Torricelli's law). Otherwise:

- sharp edge, t/d <= 0.5: C = 0.592 + 4.5 / sqrt(Re), Re = d sqrt(2 g H) / nu, at most 0.70 (law
  and cap from memory; within 0.3 % of Bovey's measured table for 12.7 mm, heads of 0.3-6 m,
  within 2 % of Hamilton Smith's for 12 and 30 mm, both in Unwin, "Hydraulics", Enc. Brit. 1911,
  and at most 2.5 % above ISO 5167's plate with corner taps, d/D = 0.2). Its limit is that of water
  without viscosity, 0.5913 by free streamlines, and so what the flow solver's jet has;
- t/d >= 1, the jet fills the hole again: C = 0.827 - 0.0085 t/d (Lichtarowicz, Duggins & Markland
  1965, J. Mech. Eng. Sci. 7, 210, for t/d 2-10 at high Re; from memory; within 3 % of a sharp
  pipe entrance's 1 / sqrt(1 + K), K = 0.50-0.57 in handbooks, and with the friction of a smooth
  pipe at Re = 1e4, as 1 / sqrt(1 + K + f t/d), of all t/d from 2 to 10). Between the two the flow
  can be either, with hysteresis: linear interpolation;
- rounded edge: C = 0.95 (running full; 1 / sqrt(1 + K) of an entrance with r/d = 0.1 is 0.91-0.98
  in six handbooks);
- R = nu (3 / b^3 + 8 t / (pi b^4)), b = d/2: creeping flow (Sampson 1891, Phil. Trans. A 182, 449,
  plus Poiseuille), dominant below Re of some tens.

For several holes areas add; each has the coefficient of its own diameter (in Re and in t/d) and its
own R, so that n equal ones have R/n together. Neglected: the interaction of holes with centres
closer than about three diameters (common practice, no source), and their smaller inertance than
that of one hole of the same area.

Expect 3 % for a clean sharp hole above Re = 1e4, 5-10 % below Re = 1e3 and for 0.5 < t/d < 2.

The jet. A sharp hole's jet contracts to C of its area without loss; a full one does not contract,
and C is only loss. If the bowl moves with speed V, only the excess over V is contracted,

    v_jet = V + (v - V) / C_c   for v > V,

so that a hole that moves through still water as fast as the water passes does not disturb it;
without a base this is the free-streamline result for a tube end, v_jet = 2 v - V, C_c = 1/2
(Borda). Between a small hole and a tube end C_c = 1/2 + (C - 1/2) sqrt(1 - (b/R)^2), R the outer
radius: the first-order effect of the base's finite width on the momentum theorem (the suction that
is missing beyond R), exact at both ends.

Unequal holes have one head over all, and each its own law. If the total flow Q is known instead of
the head, as in the heave model, Q is divided so that all parts need the same head,

    e_i(Q_i) = g H for all i,   sum Q_i = Q,

e_i the energy of jet and losses (from first principles). The jet acting on the bowl is the mean,
weighted by flow: momenta add.
"""

import math
from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.kernels import hole

THIN, FULL = 0.5, 1.0
"""Length over diameter up to which the jet separates, and from which it fills the hole."""

TUBE, TUBE_FALL, TUBE_RANGE = 0.827, 0.0085, 10.0
"""Coefficient of a hole that runs full, its decrease with length over diameter, and range."""

ROUNDED = 0.95  # coefficient of a well rounded hole


@dataclass(frozen=True)
class Discharge:
    """Law of one hole, or of several equal ones together; of unequal ones see `SideBySide`.

    diameter, length : of each hole [m]
    area : of all [m^2]
    constant : coefficient given in the case, or None
    filling : 0 for a jet that separates from the hole's wall, 1 for one that fills the hole
    full_coefficient : C of the hole running full
    resistance : R of creeping flow [m^2/s^2 per m^3/s], 0 for a given coefficient
    viscosity : kinematic [m^2/s]
    source : where the coefficient comes from, in words
    count : of holes
    beside : area of other holes in the same base [m^2]
    """

    diameter: float
    length: float
    area: float
    constant: float | None
    filling: float
    full_coefficient: float
    resistance: float
    viscosity: float
    source: str
    count: int = 1
    beside: float = 0.0

    @cached_property
    def rows(self) -> FloatArray:
        """The law for the kernels, (1, 9), see `kernels.hole.LAW`."""
        constant = math.nan if self.constant is None else self.constant
        numbers = (self.diameter, self.area, constant, self.filling, self.full_coefficient)
        rest = (self.resistance, self.viscosity, self.count, self.beside)
        return np.array([[*numbers, *rest]], dtype=float)

    def flow(self, head: float) -> float:
        """Flow under a steady head [m^3/s], of the head's sign."""
        return float(hole.flow_under(self.rows[0], head))

    def coefficient_at(self, reynolds: float) -> float:
        """C at a Reynolds number d sqrt(2 g H) / nu > 0."""
        return float(hole.coefficient_at(self.rows[0], reynolds))

    def coefficient_of_flow(self, flow: float) -> float:
        """C for a flow [m^3/s] instead of a head."""
        return float(hole.coefficient_of_flow(self.rows[0], flow))

    def jet(self, flow: float, speed: float, outer_radius: float) -> tuple[float, float]:
        """Velocity of the jet relative to the bowl [m/s], and its energy with losses [m^2/s^2].

        Both have the flow's sign.

        flow : through the hole [m^3/s], positive into the bowl
        speed : of the bowl, downwards [m/s]
        outer_radius : of the bowl at the outer surface [m]
        """
        jet, energy = hole.jet_of(self.rows[0], flow, speed, outer_radius)
        return float(jet), float(energy)


@dataclass(frozen=True)
class SideBySide:
    """Laws of unequal holes, each of equal ones.

    laws : of the groups of equal holes, the widest first
    """

    laws: tuple[Discharge, ...]

    @property
    def area(self) -> float:
        """Area of all [m^2]."""
        return sum(law.area for law in self.laws)

    @property
    def length(self) -> float:
        """Of each [m]."""
        return self.laws[0].length

    @property
    def source(self) -> str:
        """Source of the coefficient of the widest."""
        own = self.laws[0].source
        return own if own == self.laws[-1].source else f"each by its own law; the widest: {own}"

    @cached_property
    def rows(self) -> FloatArray:
        """The laws for the kernels, (n, 9)."""
        return np.vstack([law.rows for law in self.laws])

    def flow(self, head: float) -> float:
        """Flow under a steady head [m^3/s], of the head's sign."""
        return float(hole.flow_of_all(self.rows, head))

    def jet(self, flow: float, speed: float, outer_radius: float) -> tuple[float, float]:
        """The same of all holes together, the velocity as a mean, see `Discharge.jet`."""
        shares = np.empty(len(self.laws))
        jet, energy = hole.jet_of_all(self.rows, shares, flow, speed, outer_radius)
        return float(jet), float(energy)


def discharge(case: Case) -> Discharge | SideBySide:
    """Law of a case's hole or holes; see the module for sources and ranges."""
    if case.hole.equal:
        return law_of_equal(case)
    laws = []
    for diameter, number in Counter(case.hole.each).items():
        law = _law(case, diameter, number, number * math.pi * diameter**2 / 4.0)
        laws.append(replace(law, beside=case.hole.area - law.area))
    return SideBySide(tuple(laws))


def law_of_equal(case: Case) -> Discharge:
    """Law of a case's one hole, or of several equal ones."""
    return _law(case, case.hole.diameter, case.hole.count, case.hole.area)


def _law(case: Case, d: float, count: int, area: float) -> Discharge:
    """Law of equal holes of a diameter [m]."""
    t = case.bowl.base_thickness
    viscosity = case.water.viscosity / case.water.density
    constant = case.hole.discharge_coefficient
    rounded = case.hole.edge == "rounded"
    slender = t / d
    filling = 1.0 if rounded else min(max((slender - THIN) / (FULL - THIN), 0.0), 1.0)
    full = ROUNDED if rounded else TUBE - TUBE_FALL * min(slender, TUBE_RANGE)
    creeping = viscosity * (24.0 / d**3 + 128.0 * t / (math.pi * d**4))
    return Discharge(
        diameter=d,
        length=t,
        area=area,
        constant=constant,
        filling=filling,
        full_coefficient=full,
        resistance=creeping / count if constant is None else 0.0,
        viscosity=viscosity,
        source=_source(constant, rounded, filling, slender),
        count=count,
    )


def _source(constant: float | None, rounded: bool, filling: float, slender: float) -> str:
    """Where the coefficient comes from."""
    if constant is not None:
        return "given in the case"
    if rounded:
        return f"rounded edge, running full: {ROUNDED:g} (handbooks 0.91-0.98)"
    if filling == 0.0:
        return "sharp thin hole: 0.592 + 4.5 / sqrt(Re), at most 0.70"
    full = f"length {slender:.2g} diameters, running full: 0.827 - 0.0085 length / diameter"
    return full if filling == 1.0 else f"between sharp and running full ({full})"
