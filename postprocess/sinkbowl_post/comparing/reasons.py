"""Causes of the difference of a model's sinking time from the flow's, in figures and words."""

import math
from collections.abc import Mapping

import numpy as np

from sinkbowl.common.sinking import Sinking
from sinkbowl.files.record import ADDED
from sinkbowl.files.result import Result
from sinkbowl.reduced.attribution.attribute import Reasons
from sinkbowl.reduced.attribution.flow_course import Record
from sinkbowl.reduced.attribution.residuals import POCKET, POCKET_FORCE
from sinkbowl.reduced.stages import Stages, stages_of_flow

HOLE, REST, REMAINDER = "hole", "other forces", "unexplained"

PHRASES: Mapping[str, tuple[str, str]] = {
    HOLE: (
        "the hole lets less through than its law says",
        "the hole lets more through than its law says",
    ),
    "jet reaction": (
        "the jet presses the bowl down less than in the model",
        "the jet presses the bowl down more than in the model",
    ),
    "water aloft": (
        "more of the inner water is in the air and does not weigh on the base",
        "less of the inner water is in the air, more of it weighs on the base",
    ),
    "water inside": (
        "the moving water inside holds the bowl up",
        "the moving water inside presses the bowl down",
    ),
    POCKET: ("closed-off air holds the bowl up", "closed-off air presses the bowl down"),
    "added mass": (
        "the inertia of the water outside holds the bowl back more",
        "the inertia of the water outside holds the bowl back less",
    ),
    "drag": ("there is more drag", "there is less drag"),
    "waves": ("the waves hold the bowl back more", "the waves hold the bowl back less"),
    "bowl out of balance": (
        "the bowl rides higher than in balance",
        "the bowl rides deeper than in balance",
    ),
    "water held back by the base": (
        "the base holds back the water that would be inside without it",
        "more water is inside than without a base",
    ),
    "motion of the water": (
        "the moving water holds the bowl up",
        "the moving water presses the bowl down",
    ),
    REST: ("other forces hold the bowl up", "other forces press the bowl down"),
}
"""Description of a cause in the flow: if it makes the model too quick, and too slow."""

NOTEWORTHY = 0.15  # share of the largest cause from which another one is mentioned
LONG = 2.0  # difference from which it is given in seconds [s]
LEAST_RIDE = 1e-4  # mean difference of the drafts from which it is mentioned [m]


def record_of(result: Result) -> Record | None:
    """Data of a run for the attribution; None if its rim did not pass under."""
    history, time = result.history, result.events.get("rim_under", result.sinking_time)
    if time is None or result.sinking_time is None or not history["t"].size:
        return None
    closed = result.attrs.get("hole_treatment") == "closed"
    readings = (ADDED | {POCKET_FORCE}) - ({"hole_thrust"} if closed else set())
    return Record(
        t=history["t"],
        draft=history["draft"],
        inner_level=history["inner_level"],
        time=time,
        joined=result.events.get("over_rim", math.inf),
        readings={name: history[name] for name in sorted(readings) if name in history},
    )


def result_stages(result: Result) -> Stages | None:
    """Stages of a run; None if its history does not have the readings."""
    if result.attrs.get("hole_treatment") == "closed":
        return None  # no readings in the hole
    return stages_of_flow(result.case, result.history)


def causes(reasons: Reasons) -> dict[str, float]:
    """All causes that add up to the difference [s]: hole, terms of the forces, rest, remainder."""
    return {HOLE: reasons.hole, **reasons.terms, REST: reasons.rest, REMAINDER: reasons.remainder}


def explains(reasons: Reasons | None, half_width: float | None) -> bool:
    """Whether there is a difference to explain, and reasons for it."""
    return reasons is not None and not reasons.note and abs(reasons.total) > (half_width or 0.0)


def sentence(
    model: str, reasons: Reasons, half_width: float | None, higher: float | None = None
) -> str:
    """The difference and its largest causes in a sentence.

    half_width : of the interval of the flow's time, 95 % [s]; None if unknown
    higher : height of the flow's bowl over the model's with the same water [m]
    """
    total = reasons.total
    whole = amount(abs(total), half_width, total)
    off = f"{model} is {whole} too {'quick' if total < 0 else 'slow'}"
    if half_width is not None and abs(total) <= half_width:
        width = amount(half_width, half_width, total)
        return f"{model}: the difference is inside the interval of the flow's time, ± {width}."
    if reasons.note:
        return f"{off}; {reasons.note}: no causes are given."
    found = causes(reasons)
    found.pop(REMAINDER)
    order = sorted(found, key=lambda name: -abs(found[name]))
    with_it = [name for name in order if found[name] * total > 0.0]
    if not with_it:
        return f"{off}; no separate cause has that sign."
    because = _ride(higher, total) if with_it[0] != HOLE else ""
    first = f"{because}{_phrase(with_it[0], found)}"
    size = abs(found[with_it[0]])
    share = amount(size, half_width, total)
    text = f"{off}: {first}; that is {share.split()[0]} of the {whole}"
    if size > abs(total):
        text = f"{off}: {first}; that alone is {share}"
    for word, sign in (("Besides", 1.0), ("On the other hand", -1.0)):
        others = [
            f"{_phrase(name, found)} ({amount(found[name], half_width, total, signed=True)})"
            for name in order
            if name != with_it[0]
            and sign * found[name] * total > 0.0
            and abs(found[name]) > NOTEWORTHY * size
        ]
        if others:
            text += f". {word}, {'; '.join(others)}"
    return text + "."


def cautions(reasons: Mapping[str, Reasons | None], half_width: float | None) -> list[str]:
    """Sentences of caution about these figures."""
    known = [one for one in reasons.values() if one is not None]
    lines = []
    if half_width is None and known:
        lines.append("The interval of the flow's time is unknown.")
    speed = max((one.speed for one in known), default=0.0)
    if speed > 0.0:
        stalls = any(one.stalls for one in known)
        lines.append(
            f"As the rim passes under, 1 mm of draft is {1.0 / speed:.2g} ms"
            + (
                ": the bowl nearly stalls there, and small forces make long times."
                if stalls
                else "."
            )
        )
    return lines


def ride(flow: Sinking, model: Sinking) -> float | None:
    """Height of the flow's bowl over the model's with the same water inside [m].

    Mean over the inner volume until the first of the two rims is under, or None.
    """
    curves = []
    for one in (flow, model):
        kept = one.t <= one.events.get("rim_under", math.inf)
        volume = np.maximum.accumulate(one.inner_volume[kept])
        curves.append((volume, one.draft[kept]))
    (flow_water, flow_draft), (water, draft) = curves
    if len(flow_water) < 2 or len(water) < 2:
        return None
    common = np.linspace(0.0, min(flow_water[-1], water[-1]), 200)[1:]
    deeper = np.interp(common, water, draft) - np.interp(common, flow_water, flow_draft)
    return float(np.mean(deeper))


def amount(value: float, half_width: float | None, total: float, signed: bool = False) -> str:
    """A difference of times in words, with the digits that the interval allows.

    The half-width has two figures and the difference as many decimals; if it is unknown, the
    difference has two figures.
    """
    factor, unit = (1e3, "ms") if abs(total) < LONG else (1.0, "s")
    size = half_width if half_width else abs(total)
    decimals = max(0, 1 - math.floor(math.log10(max(size * factor, 1e-3))))
    return f"{value * factor:{'+z' if signed else ''}.{decimals}f} {unit}"


def _phrase(name: str, found: Mapping[str, float]) -> str:
    quick, slow = PHRASES[name]
    return quick if found[name] < 0.0 else slow


def _ride(higher: float | None, total: float) -> str:
    """'the bowl rides 2 mm higher than in the model, because ', if that applies."""
    if higher is None or abs(higher) < LEAST_RIDE or higher * total > 0.0:
        return ""
    way = "higher" if higher > 0.0 else "deeper"
    return f"the bowl rides {1e3 * abs(higher):.1f} mm {way} than in the model, because "
