"""Result of `sizing`: a hole or a ring for a wanted sinking time, or the reason for none."""

from dataclasses import dataclass
from typing import Any, Literal

from sinkbowl.common.shown import (
    columns,
    duration,
    for_terminal,
    grams,
    millimetres,
    percent,
    seconds,
)
from sinkbowl.common.sinking import SENSITIVE, Best
from sinkbowl.design.checking import SLOW
from sinkbowl.design.sizing.design_variable import KEYS, Variable
from sinkbowl.design.sizing.drills import SERIES_WORDS, TOLERANCE_WORDS
from sinkbowl.statics.capillarity import HoleGate

HEADINGS = ("drill", "time", "off by", "hole up to", "time then", "tolerance costs")
"""Columns of the table of drills."""

Verdict = Literal["found", "plugged", "too quick", "too slow", "floats", "jumps"]


@dataclass(frozen=True)
class DrillChoice:
    """A preferred drill and the times of its hole.

    diameter : of the drill [m]
    time : of a hole as wide as the drill, once it has started [s]; None if the bowl floats
    starts : whether such a hole starts by itself
    widest : hole at the upper end of the tolerance [m]
    time_at_widest : its time [s]
    """

    diameter: float
    time: float | None
    starts: bool
    widest: float
    time_at_widest: float | None

    def off_by(self, wanted: float) -> float | None:
        """Its time over a wanted one [s], minus 1; None if it has none."""
        return None if self.time is None else self.time / wanted - 1.0

    @property
    def tolerance_costs(self) -> float | None:
        """Relative reduction of the time by the widest hole; None if there is none."""
        if self.time is None or self.time_at_widest is None:
            return None
        return self.time_at_widest / self.time - 1.0

    def as_dict(self, wanted: float) -> dict[str, Any]:
        """The choice as plain numbers, compared with a wanted time [s]."""
        return {
            "diameter_m": self.diameter,
            "sinking_time_s": self.time,
            "off_by": self.off_by(wanted),
            "starts": self.starts,
            "widest_m": self.widest,
            "sinking_time_at_widest_s": self.time_at_widest,
            "tolerance_costs": self.tolerance_costs,
        }


@dataclass(frozen=True, repr=False)
class Sized:
    """Hole or ballast for a wanted sinking time, or the nearest there is.

    Attributes
    ----------
    title : of the case
    model : reduced model that was inverted
    by : "hole" or "ballast"
    wanted : sinking time [s]
    verdict : "found"; "plugged": the meniscus holds the result; "too quick": even the largest hole
        or ring sinks more slowly than wanted; "too slow": even the smallest sinks faster; "floats":
        it does not sink, at all or with so little; "jumps": the time jumps over the wanted one
    ratios : diameter of each hole over that of the widest
    value : diameter of each or of the widest hole [m], or mass of the ring [kg]: the result, or the
        nearest that sinks; None if none does
    time : its time, once it has started [s]
    best : best estimate of `check` for it, None for models other than the corrected one
    gate : its meniscus
    freeboard : of the rim above the water, set down dry [m]; None if it goes under at once
    section : diameter of the ring's section [m]; None if the hole is sought
    heave_period : heave period [s]; None as freeboard
    tips : whether `check` says that it tips
    question : warning for an impossible density, or empty
    first, time_at_first : if plugged, the smallest diameter or mass that starts by itself, and its
        time; None if none does
    drills : nearest preferred diameters or, if plugged, the first that starts
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
        lines = [self.title, self._answer(), *self._remarks(), *self._values(), *self._drills()]
        return for_terminal("\n".join(lines))

    @property
    def count(self) -> int:
        """Number of holes."""
        return len(self.ratios)

    @property
    def periods_to_sink(self) -> float | None:
        """Sinking time over heave period; None if one of them is missing."""
        if self.time is None or self.heave_period is None:
            return None
        return self.time / self.heave_period

    @property
    def push(self) -> float | None:
        """Impulse that starts a plugged one [N s]; None for others."""
        return self.gate.push_impulse if self.gate is not None and self.gate.plugged else None

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
            "push_impulse_N_s": self.push,
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

    def _answer(self) -> str:
        """The result, or the reason for none."""
        hole = self.by == "hole"
        if self.value is None:
            if hole:
                return "FLOATS: it does not sink, whatever the hole. Run sinkbowl check."
            return "FLOATS: it does not sink, whatever the mass of the ring."
        wanted, what, takes = duration(self.wanted), self._what(self.value), f"takes {self._text()}"
        model = f"{self.model} model" if self.best is None else self.best.model
        return {
            "found": f"FOUND: {what} {takes} ({model}).",
            "plugged": f"PLUGGED: {what} would take {wanted}, but surface tension keeps the hole "
            "shut.",
            "too quick": f"NOT POSSIBLE: it cannot sink in {wanted}. Even with {what}, "
            + (
                f"the widest, it {takes}: it falls freely, and its inertia sets the time."
                if hole
                else f"the heaviest that was tried, it {takes}."
            ),
            "too slow": f"NOT POSSIBLE: it cannot take {wanted}. Even with {what}, the "
            f"{'narrowest' if hole else 'lightest'} that a case may have, it {takes}.",
            "floats": f"FLOATS: for {wanted} it is too light and floats. "
            f"The lightest that sinks, {what}, {takes}.",
            "jumps": f"NOT POSSIBLE: nothing gives {wanted}. The time jumps next to {what}, which "
            f"{takes}.",
        }[self.verdict]

    def _text(self) -> str:
        """Its time, with its interval if known, long ones also in minutes."""
        if self.best is None or self.time is None:
            return "" if self.time is None else duration(self.time)
        return f"{self.best} {duration(self.time).partition(' s ')[2]}".rstrip()

    def _what(self, value: float) -> str:
        if self.by == "ballast":
            return f"a ring of {grams(value)}"
        if self.count == 1:
            return f"a hole of {millimetres(value)}"
        if min(self.ratios) == 1.0:
            return f"a set of {self.count} holes of {millimetres(value)}"
        return f"a set of holes of {', '.join(millimetres(r * value) for r in self.ratios)}"

    def _remarks(self) -> list[str]:
        """The push for a plugged bowl, and the validity of the model."""
        remarks = []
        if self.tips:
            remarks.append(
                "TIPS: it is unstable (see sinkbowl check). The times are for a bowl kept upright."
            )
        if self.best is not None and self.best.sensitive:
            remarks.append(SENSITIVE)
        if self.question:
            remarks.append(self.question)
        if self.push is not None:
            remarks.append(f"A push of {self.push:.2g} N s starts it.")
            if self.first is None or self.time_at_first is None:
                remarks.append("None starts by itself.")
            else:
                least = f"{self._what(self.first)}: {duration(self.time_at_first)}"
                remarks.append(f"The smallest that starts by itself is {least}.")
        periods = self.periods_to_sink
        if self.verdict in ("found", "too quick") and periods is not None and periods < SLOW:
            remarks.append(
                f"That is {periods:.2g} heave periods: inertia matters. Confirm it with the flow "
                "solver: sinkbowl run."
            )
        return remarks

    def _values(self) -> list[str]:
        """A blank line and one line per known length; nothing if there is none."""
        gate = self.gate
        known = {
            "head over the hole, empty": gate.head if gate else None,
            "head to start the flow": gate.breakthrough_head if gate else None,
            "freeboard, set down empty": self.freeboard,
            "section of the ring": self.section,
        }
        lines = [f"  {n:<28}{millimetres(v)}" for n, v in known.items() if v is not None]
        return ["", *lines] if lines else []

    def _drills(self) -> list[str]:
        """Table of the drills and the sources of series and tolerance."""
        if not self.drills:
            return []
        rows = [
            (
                millimetres(drill.diameter) + ("" if drill.starts else ", plugged"),
                _time(drill.time),
                _percent(drill.off_by(self.wanted)),
                millimetres(drill.widest),
                _time(drill.time_at_widest),
                _percent(drill.tolerance_costs),
            )
            for drill in self.drills
        ]
        sources = [f"  Series: {SERIES_WORDS}.", f"  Hole: {TOLERANCE_WORDS}."]
        return ["", "Standard drills:", *columns([HEADINGS, *rows]), *sources]


def _time(time: float | None) -> str:
    return "floats" if time is None else seconds(time)


def _percent(share: float | None) -> str:
    return "" if share is None else percent(share, "+z.1f")
