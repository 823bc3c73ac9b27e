"""Start of a sinking, and results that need no integration.

A bowl is set down dry at its draft with the hole plugged; a drop starts as its lowest point touches
the water, a held bowl at the draft at which it is held, level inside or dry. A bowl too heavy to
float even dry otherwise begins with its rim at the surface.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import RIM_DIPS, RIM_UNDER, Sinking
from sinkbowl.statics.capillarity import HoleGate, hole_gate
from sinkbowl.statics.hydrostatics import dry_draft, final_draft, floats, held_level, immersion_work
from sinkbowl.statics.vessel import Vessel, vessel_of


@dataclass(frozen=True)
class Beginning:
    """State of the dry bowl before release.

    draft : at rest [m], or the rim's height if it goes under at once
    head : outer surface above the hole's inner edge there [m]
    under : whether it goes under at once
    """

    draft: float
    head: float
    under: bool


def beginning(case: Case) -> Beginning:
    """Draft and head of the dry bowl."""
    draft = dry_draft(case)
    start = case.bowl.rim_height if draft is None else draft
    return Beginning(start, start - case.bowl.inner_edge_height, draft is None)


def release_draft(case: Case) -> float:
    """Draft [m] at release."""
    if case.start.kind in ("drop", "held"):
        return case.start.draft
    return beginning(case).draft


def release_water(vessel: Vessel) -> float:
    """Water [m^3] in bowl and hole at release; 0 if dry."""
    level = held_level(vessel.case)
    return 0.0 if level is None else vessel.water(level)


def corner_answer(case: Case, model: str) -> Sinking | None:
    """Result of a bowl that does not start to fill, upright or not; None for others."""
    if floats(case):
        dry = base_dry_answer(case, model)
        if dry is not None:
            return dry
    gate = hole_gate(case)
    if gate.plugged and not starts_anyway(case, gate):
        return _at_rest(model, beginning(case), case, plugged_words(gate))
    return None


def base_dry_answer(case: Case, model: str) -> Sinking | None:
    """Result of a bowl that floats so high that no water reaches its hole; None for others."""
    begin = beginning(case)
    if begin.head > 0.0:
        return None
    return _at_rest(model, begin, case, f"floats with draft {_mm(begin.draft)}, base dry")


def starts_anyway(case: Case, gate: HoleGate) -> bool:
    """Whether push, drop or the held draft overcome the meniscus."""
    return case.start.kind != "set down" and start_margin(case, gate) >= 0.0


def start_margin(case: Case, gate: HoleGate) -> float:
    """Margin of the start over the meniscus; negative if the meniscus holds.

    In metres of head for a bowl set down or held, in N s for a push, in joules for a drop.
    """
    if case.start.kind in ("set down", "held"):
        held = case.start.draft - case.bowl.inner_edge_height
        return max(gate.head, held) - gate.breakthrough_head
    if case.start.kind == "push":
        return case.start.push - gate.push_impulse
    vessel = vessel_of(case)
    target = min(vessel.inner_edge + gate.breakthrough_head, vessel.rim)
    momentum = vessel.mass * np.sqrt(2.0 * GRAVITY * case.start.drop_height)
    kinetic = 0.5 * momentum**2 / (vessel.mass + vessel.outside(0.0).inertia.bowl)
    return float(kinetic - immersion_work(case, 0.0, target))


def plugged_words(gate: HoleGate) -> str:
    """The head or push that a plugged bowl needs, in words."""
    push = f"a push of {gate.push_impulse:.2g} N s"
    if gate.under_first:
        return f"plugged: needs {_mm(gate.missing_head)} more head, {push} takes its rim under"
    return f"plugged: needs {_mm(gate.missing_head)} more head or {push}"


def outcome_words(case: Case, events: dict[str, float]) -> str:
    """The outcome in words."""
    rim = events.get("rim_under")
    rest = final_draft(case) if floats(case) else None
    if rest is not None:
        dips = "" if rim is None else f"{RIM_DIPS}, then "
        return f"{dips}floats with draft {_mm(rest)}"
    if rim is None:
        return "stays afloat"
    if rim == 0.0:
        return "goes under at once: too heavy to float even when dry"
    return f"sinks: {RIM_UNDER}"


def _at_rest(model: str, begin: Beginning, case: Case, outcome: str) -> Sinking:
    """A result with a single time."""
    nothing = np.zeros(1)
    return Sinking(
        model=model,
        t=nothing,
        draft=np.array([begin.draft]),
        speed=nothing,
        inner_volume=nothing,
        inner_level=np.array([-case.bowl.base_thickness]),
        head=np.array([begin.draft - case.bowl.outer_edge_height]),
        hole_flow=nothing,
        events={"start": 0.0},
        outcome=outcome,
        sinking_time=None,
    )


def _mm(length: float) -> str:
    return f"{length * 1e3:.1f} mm"
