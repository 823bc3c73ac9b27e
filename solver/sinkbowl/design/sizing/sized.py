"""What `sizing` finds: a hole or a ring for a wanted sinking time, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from sinkbowl.common.best import Best
from sinkbowl.common.plain_text import for_terminal
from sinkbowl.design.sizing.design_variable import KEYS, Variable
from sinkbowl.design.sizing.drills import SERIES_WORDS, TOLERANCE_WORDS
from sinkbowl.design.sizing.size_page import size_page
from sinkbowl.statics.capillarity import HoleGate

Verdict = Literal["found", "plugged", "too quick", "too slow", "floats", "jumps"]


@dataclass(frozen=True)
class DrillChoice:
    """A drill that can be bought and the times its hole gives.

    Attributes
    ----------
    diameter : of the drill [m]
    time : of a hole as wide as the drill, once it has started [s]; None where the bowl floats
    starts : whether such a hole starts by itself
    widest : hole at the upper end of the tolerance [m]
    time_at_widest : its time [s]
    """

    diameter: float
    time: float | None
    starts: bool
    widest: float
    time_at_widest: float | None

    def as_dict(self, wanted: float) -> dict[str, Any]:
        """The choice as plain numbers, beside a wanted time [s]."""
        return {
            "diameter_m": self.diameter,
            "sinking_time_s": self.time,
            "off_by": None if self.time is None else self.time / wanted - 1.0,
            "starts": self.starts,
            "widest_m": self.widest,
            "sinking_time_at_widest_s": self.time_at_widest,
            "tolerance_costs": None
            if self.time is None or self.time_at_widest is None
            else self.time_at_widest / self.time - 1.0,
        }


@dataclass(frozen=True, repr=False)
class Sized:
    """Hole or ballast for a wanted sinking time, or the nearest there is.

    Attributes
    ----------
    title : of the case
    model : reduced model that was turned round
    by : "hole" or "ballast"
    wanted : sinking time [s]
    verdict : "found"; "plugged" where the meniscus holds what was found; "too quick" where even the
        largest hole or ring sinks more slowly than wanted, "too slow" where even the smallest sinks
        faster; "floats" where it does not sink, at all or with so little; "jumps" where the time
        leaps over the wanted one
    ratios : diameter of each hole over that of the widest
    value : diameter of each hole, or of the widest, [m] or mass of the ring [kg] that was found, or
        the nearest that sinks; None where none does
    time : that it gives, once it has started [s]
    best : the answer of `check` for it, None for another model than the corrected one
    gate : its meniscus
    freeboard : of the rim above the water, set down dry [m]; None where it goes under at once
    section : of the ring, its diameter [m]; None where the hole is sought
    heave_period : of its free bobbing [s]; None as freeboard
    tips : whether `check` says that it tips
    question : asks about a mass that no material has; empty for any other
    first, time_at_first : where it is plugged, the least diameter or mass that starts by itself,
        and its time; None where none does
    drills : nearest preferred diameters, or where it is plugged the first one that starts
    """

    title: str
    model: str
    by: Variable
    wanted: float
    verdict: Verdict
    ratios: tuple[float, ...]
    value: float | None
    time: float | None
    best: Best | None
    gate: HoleGate | None
    freeboard: float | None
    section: float | None
    heave_period: float | None
    tips: bool
    question: str
    first: float | None
    time_at_first: float | None
    drills: tuple[DrillChoice, ...]

    def __repr__(self) -> str:
        """The page that ``sinkbowl size`` prints."""
        return for_terminal(size_page(self.as_dict()))

    @property
    def count(self) -> int:
        """Number of holes."""
        return len(self.ratios)

    @property
    def periods_to_sink(self) -> float | None:
        """Sinking time over heave period; None where one of them is missing."""
        if self.time is None or self.heave_period is None:
            return None
        return self.time / self.heave_period

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers, strings and None, units in the keys."""
        gate, key = self.gate, KEYS[self.by]
        return {
            "title": self.title,
            "model": self.model,
            "by": self.by,
            "wanted_time_s": self.wanted,
            "verdict": self.verdict,
            "tips": self.tips,
            "question": self.question,
            "hole_count": self.count,
            "hole_ratios": list(self.ratios),
            key: self.value,
            "sinking_time_s": self.time,
            "best": None if self.best is None else self.best.as_dict(),
            "interval_s": None if self.best is None else list(self.best.interval),
            "head_m": None if gate is None else gate.head,
            "breakthrough_head_m": None if gate is None else gate.breakthrough_head,
            "push_impulse_N_s": gate.push_impulse if gate is not None and gate.plugged else None,
            "freeboard_m": self.freeboard,
            "ring_section_m": self.section,
            "heave_period_s": self.heave_period,
            "sinking_time_over_heave_period": self.periods_to_sink,
            f"first_{key}": self.first,
            "first_sinking_time_s": self.time_at_first,
            "drills": [drill.as_dict(self.wanted) for drill in self.drills],
            "drill_series": SERIES_WORDS,
            "drill_tolerance": TOLERANCE_WORDS,
        }
