"""Factor from the heave model's sinking time to the flow solver's; uncertainties of both.

The factor is the value of a surface fitted to the map (surface.py) at the bowl's dimensionless
numbers (similarity.py). For small holes it tends to 1 and its interval to 0; far from all bowls of
the map the interval is that of the prior. No bowl is refused for its size or shape. Bowls with
another start than the map's, or in a narrow or shallow tub, have the heave model with the prior's
interval.

Effects not in the map's runs (scatter/not_computed.csv), the map's grid and the discharge law are
separate parts.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sinkbowl.case.case import Case
from sinkbowl.case.parts import usual_tub
from sinkbowl.common import QUANTILE
from sinkbowl.common.sinking import STALL_HALF, FloatArray, Sinking, nearly_stalls, widened
from sinkbowl.corrected.similarity import likeness
from sinkbowl.corrected.surface import Learnt, learnt
from sinkbowl.reduced import heave
from sinkbowl.scatter.interval import (
    TimeInterval,
    hole_ratio,
    not_computed,
    of_runs,
    repeat_runs_at,
)
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.hydrostatics import dry_draft, floats, heave_period

LAW = 0.03
"""Error of an estimated discharge coefficient at 95 % (reduced/discharge.py): the flow solver's own
jet has 0.5913, real sharp holes 0.60 to 0.63."""

COEFFICIENTS = 0.58, 0.64  # coefficients between which the sensitivity of the time is computed

BASE_GONE = 0.01
"""Half-width at 95 % of theory for a bowl without a base: heave and flow differ by 0.1 % in the cup
of 92 mm, the models by up to 0.7 % (tests/verification/test_reduced_limits.py)."""

OTHER_HEAVE = 0.5
"""Difference between best estimate and heave, in periods, from which the rim goes under at another
heave than by theory, and between releases as well: then the interval's half is a period. Two such
bowls of the map have releases 11 and 28 % apart; the other 247 with a period of over a tenth of
their time 0.9 % (median) and 14 % at most."""

MAP_AIR = "kept"  # treatment of closed-off air in the map's runs


@dataclass(frozen=True)
class Correction:
    """The correction of a case.

    reason : why the map does not apply, in a sentence; empty if it does
    factor : of the heave model's times; 1 if the map does not apply
    parts : half-widths at 95 %, shares of the time, by cause; without the discharge law
    sensitive : whether the bowl nearly stalls before its rim is under, or may within its
        uncertainty
    """

    reason: str
    factor: float
    parts: Mapping[str, float]
    sensitive: bool


def correction(case: Case, by_heave: Sinking) -> Correction:
    """Correction of a case with the sinking `by_heave` of the heave model."""
    return correction_by(learnt(), case, by_heave)


def correction_by(known: Learnt, case: Case, by_heave: Sinking) -> Correction:
    """The same with another map."""
    reason = beside_the_map(case, by_heave)
    if by_heave.sinking_time is None:
        return Correction(reason, 1.0, {}, False)
    if dry_draft(case) is None:
        return Correction(reason, 1.0, {"theory": _at_once(known, case, by_heave)}, False)
    like, sure = likeness(case, by_heave), QUANTILE * known.surface.widening
    noise = known.noise(like)
    if reason:
        alone = sure * math.hypot(known.surface.amplitude * like.scale, noise)
        least = STALL_HALF if like.stalls else 0.0
        return Correction(reason, 1.0, widened({"theory": alone}, least), like.stalls)
    prediction = known.surface.at(like.x, like.scale)
    by_map = 1.0 - min(1.0, (prediction.deviation / prediction.prior) ** 2)
    ratio = hole_ratio(case)
    missing = not_computed(ratio, MAP_AIR)
    parts = {
        "theory and map": sure * math.hypot(prediction.deviation, noise),
        "grid": by_map * repeat_runs_at(ratio).grid,
        "axisymmetry": by_map * max(abs(missing.shift), missing.shift_half),
        "closed-off air": missing.air_half,
    }
    factor = math.exp(prediction.value)
    least = 1.0 / (factor * like.pace) if abs(factor - 1.0) * like.pace >= OTHER_HEAVE else 0.0
    sensitive = like.stalls or max(parts["theory and map"], least) >= STALL_HALF
    parts = widened(parts, max(least, STALL_HALF if sensitive else 0.0))
    return Correction("", factor, parts, sensitive)


def law_half(case: Case) -> float:
    """Half-width at 95 % by the discharge law, share of the time; 0 if the case gives C."""
    if case.hole.discharge_coefficient is not None or case.base_gone:
        return 0.0
    cases = (with_coefficient(case, c) for c in COEFFICIENTS)
    low, high = (heave.solve(one, beyond=False).sinking_time or 0.0 for one in cases)
    if not low * high > 0.0:
        return LAW
    return LAW * abs(math.log(high / low) / math.log(COEFFICIENTS[1] / COEFFICIENTS[0]))


def flow_interval(
    case: Case,
    times: Sequence[float | None],
    histories: Sequence[Mapping[str, FloatArray]],
    closed: bool,
    grid: float | None = None,
) -> TimeInterval | None:
    """Interval of one run or an ensemble by the flow solver; None if not every rim passed under.

    A bowl that nearly stalls may miss its rim by one heave and take a period longer. A narrow
    hole's bowl bobs on its way without harm: a period is little of its time.

    times, histories : sinking time [s] of each member, and its t, draft and speed
    closed : whether the hole followed a discharge law
    grid : half-width by the grid error, if there are several grids [s]
    """
    known = [time for time in times if time is not None]
    if len(known) < len(times):
        return None
    period = heave_period(case)
    stalls = any(
        nearly_stalls(one["t"], one["draft"], one["speed"], time)
        and (period is None or period >= STALL_HALF * time)
        for one, time in zip(histories, known, strict=True)
    )
    law = law_half(case) if closed else None
    return of_runs(case, known, grid, law=law, sensitive=stalls)


def with_coefficient(case: Case, coefficient: float) -> Case:
    """The case with a constant discharge coefficient."""
    return replace(case, finish=replace(case.finish, discharge_coefficient=coefficient))


def without_map(case: Case) -> str:
    """Why a case is outside the map for any hole and mass; empty if it may be inside."""
    if case.hole.count > 1:
        return "the correction is from bowls with one hole"
    if case.start.kind != "set down":
        return "the correction is from bowls that were set down"
    if case.flow.tub_radius < usual_tub(case.bowl.rim_radius) * (1.0 - 1e-9):
        return "the correction is from bowls in wider tubs"
    if case.flow.tub_depth is not None:
        return "the correction is from bowls in deep tubs"
    return ""


def beside_the_map(case: Case, by_heave: Sinking) -> str:
    """Why a case is outside the map; empty if it is inside."""
    if floats(case) or by_heave.sinking_time is None:
        return "its rim does not go under by itself"
    if dry_draft(case) is None:
        return "it goes under at once"
    reason = without_map(case)
    if not reason and hole_gate(case).plugged:
        return "the meniscus holds it"
    return reason


def _at_once(known: Learnt, case: Case, by_heave: Sinking) -> float:
    """Half-width of theory for a bowl that does not float dry: it falls within half a period."""
    if case.base_gone or not by_heave.sinking_time:
        return BASE_GONE
    return QUANTILE * known.surface.widening * known.surface.amplitude / by_heave.rim_speed
