"""Contents of a trial sheet: settings, expectation, table of trials, safety.

The expected time is that of `check`; 95 % of careful trials (`check --uncertainty`) should be
between the two ends.
"""

from dataclasses import dataclass

from sinkbowl.bowl.ballast import Piece, Ring
from sinkbowl.case.case import Case
from sinkbowl.common.sinking import SENSITIVE, Best
from sinkbowl.corrected.model import best_time
from sinkbowl.design.budget.budget import Budget, trial_words
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.design.check_page import heel_words
from sinkbowl.design.checking import CheckResult, check
from sinkbowl_post.style import seconds

COLUMNS = ("no.", "hole [mm]", "mass [g]", "time [s]", "outcome", "remarks")
"""Columns of the empty table; `sinkbowl fit` reads hole, mass, time and outcome."""

CAUTIONS = (
    "Drilling: clamp the work, never hold it by hand. Wear eye protection.",
    "Deburring: cut away from the hand.",
    "Keep mains electricity, lamps and chargers away from the tub.",
    "Never leave a child alone with a filled tub, even for a moment. Empty it afterwards.",
    "Local rules and the supervisor decide.",
)

ROUTINE = (
    "Before each trial wipe the bowl and dry the hole. Time from release until the rim is under",
    "the still water. Repeat, and write down every trial, also the failed ones.",
)

ROOM = 2.0  # minimum depth of the water in bowl heights (common practice, no source)
COARSE = 0.1  # scatter of the timing, as a share of the time, from which a film is advised
FINGER = 0.025  # widest hole [m] that a finger can close (common practice, no source)

TOO_WIDE = (
    "A finger cannot close so wide a hole. Hold the bowl by its rim at a chosen draft, water level "
    'inside, and let go. Set [start] kind = "held" and this draft in the case.'
)

VERDICTS = {
    "sinks": "It should sink and start by itself.",
    "floats": "It should stay afloat, part-sunk.",
    "plugged": "It should stay plugged: surface tension keeps the hole shut.",
    "tips": "It may capsize while it fills: keep a hand ready, and release it upright.",
}

CONDITIONS = {"tips": ", if it is kept upright", "plugged": ", once a push has started it"}

FALLS_OVER = "It falls over when it is set down empty: it needs ballast low down."

OPENED = "It should sink: the push or drop starts the flow. Without it the hole stays plugged."


@dataclass(frozen=True)
class Sheet:
    """Texts of one trial sheet.

    title : of the case
    settings, expected : names and values
    remarks : lines below the expectation
    """

    title: str
    settings: tuple[tuple[str, str], ...]
    expected: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


def trial_sheet(case: Case) -> Sheet:
    """Fill in a sheet; errors as of `check` and `error_budget`."""
    answer = check(case)
    budget, best = error_budget(case), best_time(meniscus_aside(case))
    return Sheet(
        title=case.title,
        settings=tuple(_settings(case)),
        expected=tuple(_expected(case, answer, budget, best)),
        remarks=tuple(_remarks(case, answer, budget, best)),
    )


def _settings(case: Case) -> list[tuple[str, str]]:
    bowl = case.bowl
    rows = [
        ("bowl", f"{_mm(2 * bowl.rim_radius)} across at the rim, {_mm(bowl.rim_height)} high"),
        ("hole", _hole(case)),
        ("mass, bowl and ballast", f"{_g(case.total_mass)}, weighed together"),
    ]
    rows += [_piece(piece) for piece in case.ballast.pieces]
    rows.append(("water", f"{case.water.words}, still"))
    depth = case.flow.tub_depth or ROOM * bowl.rim_height
    rows.append(("tub", f"{_mm(2 * case.flow.tub_radius)} across and {_mm(depth)} deep, or more"))
    rows.append(("start", _start(case)))
    return rows


def _piece(piece: Piece) -> tuple[str, str]:
    place = f"{_mm(abs(piece.height))} {'above' if piece.height >= 0.0 else 'below'} the bottom"
    if isinstance(piece, Ring):
        across = f"centre line {_mm(2 * piece.radius)} across"
        return "ballast ring", f"{_g(piece.mass)}, {across}, {place}"
    along = "wide" if piece.shape == "band" else "thick"
    across = (
        f"{_mm(2 * piece.inner)} to {_mm(2 * piece.outer)} across, {_mm(piece.thickness)} {along}"
    )
    return f"ballast {piece.shape}", f"{_g(piece.mass)}, {across}, its middle {place}"


def _hole(case: Case) -> str:
    width, beside = case.hole.widths, case.hole.offset
    if case.base_gone:
        return f"the whole base, {width}"
    place = f"{_mm(beside)} off the centre" if beside else "in the centre"
    return f"{width} {place} of the base, {case.hole.edge} edge"


def _start(case: Case) -> str:
    start = case.start
    if start.kind == "drop":
        return f"drop it upright, with its bottom {_mm(start.drop_height)} above the water"
    if start.kind == "push":
        return f"set it down gently, then a push of {start.push:.3g} N s (a tap)"
    if start.kind == "held":
        closed = "hole open" if start.inside == "level" else "hole stopped till then"
        return f"hold it by the rim at a draft of {_mm(start.draft)}, {closed}, and let go"
    return "set it down gently with the hole dry, and release it"


def _expected(
    case: Case, answer: CheckResult, budget: Budget, best: Best | None
) -> list[tuple[str, str]]:
    opened = answer.verdict == "sinks" and answer.gate.plugged
    rows = [("verdict", OPENED if opened else VERDICTS[answer.verdict])]
    if answer.tips_when_set_down:
        rows = [("verdict", FALLS_OVER)]
    if answer.dry_draft is not None and answer.stability is not None:
        by = "finger on it" if case.hole.diameter <= FINGER else "closed"
        rows.append((f"draft, hole {by}", _mm(answer.dry_draft)))
    if answer.final_draft is not None:
        rows.append(("draft at rest", _mm(answer.final_draft)))
    if budget.time is not None:
        kept = CONDITIONS.get(answer.verdict, "")
        rows.append(("time until the rim is under", f"{best or seconds(budget.time)}{kept}"))
        if budget.trial is not None:
            rows.append(("95 % of careful trials", trial_words(budget.trial)))
    return rows


def _remarks(case: Case, answer: CheckResult, budget: Budget, best: Best | None) -> list[str]:
    remarks = []
    if case.hole.diameter > FINGER and case.start.kind == "set down":
        remarks.append(TOO_WIDE)
    if best is not None and best.sensitive:
        remarks.append(SENSITIVE)
    if budget.time is not None and case.uncertainty.timing > COARSE * budget.time:
        remarks.append("A stopwatch is too coarse for this bowl: film it and count frames.")
    if answer.gate.plugged and answer.verdict != "floats":
        remarks.append(
            f"A push of {answer.gate.push_impulse:.2g} N s starts it: note in the row that it was "
            "pushed."
        )
    if answer.water_effect:
        remarks.append(answer.water_effect)
    curve = answer.stability
    if curve is not None and not curve.tips and curve.minimum < 0.0:
        remarks.append("It heels while it fills and rights itself: this is not a failed trial.")
    remarks += heel_words(answer.as_dict())
    if answer.missing_ballast > 0.0:
        remarks.append(f"It needs {_g(answer.missing_ballast)} more ballast to sink.")
    return remarks


def _mm(length: float) -> str:
    return f"{length * 1e3:.3g} mm"


def _g(mass: float) -> str:
    return f"{mass * 1e3:.4g} g"
