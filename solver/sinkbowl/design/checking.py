"""Check before the trial: does it sink, start and stay upright, and how long does it take?

Combines hydrostatics, capillarity, stability and the reduced models in one frozen result. The
dimensionless numbers are taken at the start: v = sqrt(2 g head) the speed of the jet and d the
hole's diameter, Re = v d / nu, We = rho v^2 d / sigma, Bo = rho g d^2 / sigma, Fr = v / sqrt(g d).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.parts import Hole
from sinkbowl.common import GRAVITY
from sinkbowl.common.shown import for_terminal
from sinkbowl.common.sinking import Sinking
from sinkbowl.common.water import Water, water_at
from sinkbowl.corrected import model as corrected_model
from sinkbowl.corrected.model import Corrected, corrected
from sinkbowl.design.check_page import check_page
from sinkbowl.design.off_centre import HoleStart, hole_starts, hole_words, offset_heel
from sinkbowl.reduced import heave, sinkings
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.start import starts_anyway
from sinkbowl.statics.capillarity import HoleGate, hole_breakthrough_head, hole_gate, rim_lag
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.hydrostatics import (
    ballast_needed,
    dry_draft,
    final_draft,
    floats,
    heave_period,
    mean_density,
    solid_volume,
    start_head,
)
from sinkbowl.statics.stability import StabilityCurve, stability_curve

Verdict = Literal["sinks", "floats", "plugged", "tips"]

SLOW, FAST = 10.0, 1.0
"""Filling time over heave period: above the first it fills slowly, below the second it falls."""


@dataclass(frozen=True, eq=False, repr=False)
class CheckResult:
    """Result of a check.

    Attributes
    ----------
    title : of the case
    verdict : "sinks", "floats" (part-sunk), "plugged" (by the meniscus) or "tips"
    mass : bowl and ballast [kg]
    mean_density : of bowl and ballast [kg/m^3]
    missing_ballast : ballast that raises the mean density to the water's [kg], 0 if it is dense
        enough
    dry_draft : [m], None if it goes under at once
    final_draft : of rest, part-sunk [m]; None if it sinks
    head : outer surface above the hole's inner edge at the dry draft [m], None as dry_draft
    gate : of the hole, with the push that opens it
    rim_lag : depth of the rim at which water first comes over it [m]
    stability : metacentric height along the filling; None if it is not filled (under at once, or no
        base)
    coefficient : discharge coefficient at the start, None without a head
    coefficient_source : its source
    heave_period : of free heave at the dry draft, hole plugged [s]; None as dry_draft
    filling_time : of the quasi-static model [s], to the rim or to rest; None if it does not start
    numbers : dimensionless ones of the hole at the start: reynolds, weber, bond, froude
    reduced : result of each reduced model
    water : in the tub
    corrected : the heave model's with the map's correction; its `best` is the answer
    question : warning for an impossible density, or empty
    hole : of the case, with the number of holes
    holes : all of them in the order in which they start
    offset_heel : largest heel caused by a hole beside the axis [rad], 0 for one in the middle, None
        if unknown
    water_effect : of salt or soap, in words; empty for clean fresh water
    hole_words : on several holes, or one beside the axis; empty for one in the middle
    """

    title: str
    verdict: Verdict
    mass: float
    mean_density: float
    missing_ballast: float
    dry_draft: float | None
    final_draft: float | None
    head: float | None
    gate: HoleGate
    rim_lag: float
    stability: StabilityCurve | None
    coefficient: float | None
    coefficient_source: str
    heave_period: float | None
    filling_time: float | None
    numbers: Mapping[str, float]
    reduced: Mapping[str, Sinking]
    water: Water
    corrected: Corrected
    hole: Hole
    holes: tuple[HoleStart, ...]
    offset_heel: float | None
    question: str = ""
    water_effect: str = ""
    hole_words: str = ""

    def __repr__(self) -> str:
        """The page that ``sinkbowl check`` prints."""
        return for_terminal(check_page(self.as_dict()))

    @property
    def periods_to_fill(self) -> float | None:
        """Filling time over heave period; None if one of them is missing."""
        if self.filling_time is None or self.heave_period is None:
            return None
        return self.filling_time / self.heave_period

    @property
    def pace(self) -> str:
        """The model that is valid, in words."""
        ratio = self.periods_to_fill
        if ratio is None:
            return "it does not fill"
        if ratio > SLOW:
            return f"fills slowly, in {ratio:.3g} heave periods: the quasi-static model is valid"
        if ratio > FAST:
            return f"fills in {ratio:.2g} heave periods: inertia matters, use the heave model"
        return f"fills in {ratio:.2g} heave periods: it falls freely, use the flow solver"

    @property
    def tips_when_set_down(self) -> bool:
        """Whether it tips when it is still empty."""
        curve = self.stability
        return self.verdict == "tips" and curve is not None and curve.tips_dry

    @property
    def heeled_time(self) -> float | None:
        """Time [s] until the lowest point of a heeling bowl's rim is under; None for others."""
        return self.corrected.sinking.events.get("rim_dips")

    def _flooding(self) -> dict[str, Any] | None:
        """Heel against filling of a bowl that tips, until its rim dips; None for others."""
        curve = self.stability
        found = flooding(curve.case) if curve is not None and self.verdict == "tips" else None
        if found is None:
            return None
        return {
            "inner_level_m": found.inner_level.tolist(),
            "heel_deg": np.degrees(found.heel).tolist(),
            "flooding_heel_deg": math.degrees(found.flooding_heel),
            "flooding_inner_level_m": found.level,
            "rolls_on_untimed": found.rolls,
        }

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers, strings and None, units in the keys."""
        stability, heel, best = self.stability, self.offset_heel, self.corrected.best
        greatest = None if stability is None else stability.greatest_heel
        return {
            "title": self.title,
            "verdict": self.verdict,
            "tips_when_set_down": self.tips_when_set_down,
            "question": self.question,
            "water_effect": self.water_effect,
            "hole_words": self.hole_words,
            "hole_count": self.hole.count,
            "hole_diameter_m": self.hole.diameter,
            "holes": [one.as_dict() for one in self.holes],
            "hole_area_m2": self.hole.area,
            "hole_offset_m": self.hole.offset,
            "offset_heel_deg": heel if heel is None else math.degrees(heel),
            "water_density_kg_m3": self.water.density,
            "salinity_kg_kg": self.water.salinity,
            "surface_tension_N_m": self.water.surface_tension,
            "mass_kg": self.mass,
            "mean_density_kg_m3": self.mean_density,
            "missing_ballast_kg": self.missing_ballast,
            "dry_draft_m": self.dry_draft,
            "final_draft_m": self.final_draft,
            "head_m": self.head,
            "breakthrough_head_m": self.gate.breakthrough_head,
            "push_impulse_N_s": self.gate.push_impulse if self.gate.plugged else None,
            "push_force_N": self.gate.push_force if self.gate.plugged else None,
            "rim_lag_m": self.rim_lag,
            "min_metacentric_height_m": None if stability is None else stability.minimum,
            "inner_level_at_min_m": None if stability is None else stability.level_at_minimum,
            "inner_level_at_greatest_heel_m": None if greatest is None else greatest[0],
            "greatest_heel_deg": None if greatest is None else math.degrees(greatest[1]),
            "flooding": self._flooding(),
            "time_to_heel": stability is not None and stability.time_to_heel,
            "heeled_time_s": {
                corrected_model.MODEL: self.heeled_time,
                **{name: one.events.get("rim_dips") for name, one in self.reduced.items()},
            },
            "discharge_coefficient": self.coefficient,
            "discharge_coefficient_source": self.coefficient_source,
            "heave_period_s": self.heave_period,
            "filling_time_s": self.filling_time,
            "filling_time_over_heave_period": self.periods_to_fill,
            "pace": self.pace,
            **self.numbers,
            "best": None if best is None else best.as_dict(),
            "corrected": self.corrected.as_dict(),
            "reduced": {
                name: {
                    "sinking_time_s": sinking.sinking_time,
                    "outcome": sinking.words,
                    "events_s": dict(sinking.events),
                }
                for name, sinking in self.reduced.items()
            },
        }


def check(case: Case | str | Path) -> CheckResult:
    """Check a case, or a case file, without the flow solver.

    Raises
    ------
    CaseError : the file cannot be read
    RunError : a reduced model does not end
    """
    case = load_case(case)
    holes, curve = hole_starts(case), stability_curve(case)
    gate = holes[0].gate
    reduced = sinkings(case)
    head = start_head(case)
    driving = gate.head if head is None else max(head, 0.0)
    coefficient, source = _coefficient(case, driving)
    heel = offset_heel(case, curve)
    return CheckResult(
        title=case.title,
        verdict=_verdict(case, gate, curve),
        mass=case.total_mass,
        mean_density=mean_density(case),
        missing_ballast=ballast_needed(case),
        dry_draft=dry_draft(case),
        final_draft=final_draft(case),
        head=head,
        gate=gate,
        rim_lag=rim_lag(case.bowl.rim_radius, case.water, case.contact_angle),
        stability=curve,
        coefficient=coefficient,
        coefficient_source=source,
        heave_period=heave_period(case),
        filling_time=filling_time(reduced["quasi-static"]),
        numbers=_numbers(case, driving),
        reduced=reduced,
        water=case.water,
        corrected=corrected(case, reduced[heave.MODEL]),
        hole=case.hole,
        holes=holes,
        offset_heel=heel,
        question=density_warning(case),
        water_effect=water_effect(case),
        hole_words=hole_words(case, curve, holes, heel),
    )


def verdict(case: Case) -> Verdict:
    """The verdict of `check`, without the reduced models."""
    return _verdict(case, hole_gate(case), stability_curve(case))


def _verdict(case: Case, gate: HoleGate, curve: StabilityCurve | None) -> Verdict:
    """The verdict in one word. A plugged bowl needs to be upright only while it is empty."""
    plugged = gate.plugged and not starts_anyway(case, gate)
    if curve is not None and (curve.tips_dry if plugged else curve.tips):
        return "tips"
    if floats(case):
        return "floats"
    return "plugged" if plugged else "sinks"


def filling_time(quasi_static: Sinking) -> float | None:
    """Time to the rim or to rest [s], by the quasi-static model; None if it does not start."""
    events = quasi_static.events
    return events.get("rim_under", events.get("half_sunk"))


def _coefficient(case: Case, head: float) -> tuple[float | None, str]:
    """Discharge coefficient Q / (a sqrt(2 g head)) at a head [m], and its source."""
    law = discharge(case)
    if head <= 0.0:
        return None, law.source
    return law.flow(head) / (law.area * float(np.sqrt(2.0 * GRAVITY * head))), law.source


def _numbers(case: Case, head: float) -> dict[str, float]:
    water, d = case.water, case.hole.diameter
    speed = float(np.sqrt(2.0 * GRAVITY * head))
    return {
        "reynolds": speed * d * water.density / water.viscosity,
        "weber": water.density * speed**2 * d / water.surface_tension,
        "bond": water.density * GRAVITY * d**2 / water.surface_tension,
        "froude": speed / float(np.sqrt(GRAVITY * d)),
    }


def run_notes(case: Case) -> tuple[str, ...]:
    """Sentences on what `check` says and a run leaves out.

    A run leaves surface tension out unless the case asks for it, and keeps the bowl upright.
    """
    found = [density_warning(case)]
    gate = hole_gate(case)
    counted = case.flow.surface_tension or case.base_gone
    if gate.plugged and not counted and not starts_anyway(case, gate):
        found.append(
            "By `check` this hole is plugged: surface tension holds "
            f"{gate.breakthrough_head * 1e3:.2g} mm of head, {gate.head * 1e3:.2g} mm act on it. "
            "This run leaves out surface tension; flow.surface_tension = true includes it."
        )
    if verdict(case) == "tips":
        found.append("By `check` this bowl tips. The run keeps it upright.")
    return tuple(note for note in found if note)


def water_effect(case: Case) -> str:
    """Sentences that compare salt water and soap with clean fresh water; empty for that."""
    water, clean = case.water, water_at(case.water.temperature)
    found = []
    if water.salinity > 0.0:
        volume = 1e3 * solid_volume(case)
        found.append(
            f"In this salt water, {water.density:.1f} kg/m\u00b3, it sinks if it weighs more than "
            f"{volume * water.density:.4g} g; in fresh water, {volume * clean.density:.4g} g."
        )
    if water.tension_stated:
        here, there = (
            1e3 * hole_breakthrough_head(case.hole.diameter, one, case.contact_angle)
            for one in (water, clean)
        )
        found.append(
            f"With this surface tension {here:.2g} mm of head start the flow; in clean water "
            f"{there:.2g} mm at the same contact angle."
        )
    return " ".join(found)


DENSEST = 22_590.0  # density of osmium, the densest element [kg/m^3] (handbook value, from memory)


def density_warning(case: Case) -> str:
    """Warning for a bowl denser than any material; empty for others."""
    density = case.bowl.mass / case.bowl.solid_volume
    if density <= DENSEST:
        return ""
    return (
        f"A bowl of {case.bowl.mass * 1e3:.4g} g with this wall would have "
        f"{density:.0f} kg/m\u00b3, more than any material (osmium: {DENSEST:.0f}). "
        "Check the mass and the wall."
    )
