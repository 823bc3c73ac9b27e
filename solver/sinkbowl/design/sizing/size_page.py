"""The text of ``sinkbowl size``: hole or ballast for a wanted time, and the drill for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sinkbowl.common.best import SENSITIVE
from sinkbowl.common.shown import seconds, seconds_with
from sinkbowl.design.checking import SLOW
from sinkbowl.design.sizing.design_variable import KEYS, Variable

MINUTES = 120.0
"""Time [s] from which minutes are told as well."""

HEADINGS = ("drill", "time", "off by", "hole up to", "time then", "tolerance costs")
"""Columns of the drills."""


def size_page(figures: Mapping[str, Any]) -> str:
    """Set the figures of a sizing as a page of text.

    Parameters
    ----------
    figures : as ``Sized.as_dict()`` gives them, SI
    """
    lines = [figures["title"], _answer(figures), *_remarks(figures)]
    rows = _rows(figures)
    if rows:
        lines += ["", *(f"  {name:<28}{value}" for name, value in rows)]
    if figures["drills"]:
        lines += ["", *_drill_lines(figures)]
    return "\n".join(lines)


def duration(time: float) -> str:
    """A time [s] in words, long ones in minutes too: '2.13 s', '1440 s (24 min 0 s)'."""
    if time < MINUTES:
        return seconds(time)
    minutes, rest = divmod(round(time), 60)
    hours, minutes = divmod(minutes, 60)
    parts = f"{minutes} min {rest} s" if not hours else f"{hours} h {minutes} min"
    return f"{time:.0f} s ({parts})"


def _told(figures: Mapping[str, Any]) -> str:
    """Its time, with the interval where one is known, long ones in minutes too."""
    time, best = figures["sinking_time_s"], figures["best"]
    if best is None or time is None:
        return "" if time is None else duration(time)
    told = seconds_with(best["time_s"], best["interval_s"][1] - best["time_s"])
    return f"{told} {duration(time).partition(' s ')[2]}".rstrip()


def _answer(figures: Mapping[str, Any]) -> str:
    """What was found, or why there is nothing."""
    by: Variable = figures["by"]
    value = figures[KEYS[by]]
    wanted = duration(figures["wanted_time_s"])
    if value is None:
        if by == "hole":
            return "FLOATS: it does not sink, whatever the hole. It lacks ballast: sinkbowl check."
        return "FLOATS: it does not sink, whatever the mass of the ring."
    what, takes = _what(by, value, figures["hole_ratios"]), f"takes {_told(figures)}"
    hole = by == "hole"
    return {
        "found": f"FOUND: {what} {takes} ({_by(figures)}).",
        "plugged": f"PLUGGED: {what} would take {wanted}, but surface tension holds the hole shut.",
        "too quick": f"TOO QUICK: it cannot sink in {wanted}. "
        + (
            f"Even with {what}, the widest, it plunges: its inertia sets the time, and it {takes}."
            if hole
            else f"Even with {what}, the heaviest that was tried, it {takes}."
        ),
        "too slow": f"TOO SLOW: it cannot take {wanted}. Even with {what}, the "
        f"{'narrowest' if hole else 'lightest'} that a case may have, it {takes}.",
        "floats": f"FLOATS: for {wanted} it is too light and stays afloat. "
        f"The least that sinks it, {what}, {takes}.",
        "jumps": f"JUMPS: nothing gives {wanted}. Next to {what}, which {takes}, the time leaps.",
    }[figures["verdict"]]


def _remarks(figures: Mapping[str, Any]) -> list[str]:
    """What starts a plugged bowl, and how far the model can be trusted."""
    remarks, by, ratios = [], figures["by"], figures["hole_ratios"]
    if figures["tips"]:
        remarks.append("TIPS: no heel holds it (sinkbowl check). Times are of a bowl kept upright.")
    if figures["best"] is not None and figures["best"]["sensitive"]:
        remarks.append(SENSITIVE)
    if figures["question"]:
        remarks.append(figures["question"])
    push, first = figures["push_impulse_N_s"], figures[f"first_{KEYS[by]}"]
    if push is not None:
        remarks.append(f"A push of {push:.2g} N s starts it.")
        if first is None:
            remarks.append("None starts by itself.")
        else:
            time = duration(figures["first_sinking_time_s"])
            remarks.append(
                f"The least that starts by itself is {_what(by, first, ratios)}: {time}."
            )
    periods = figures["sinking_time_over_heave_period"]
    if figures["verdict"] in ("found", "too quick") and periods is not None and periods < SLOW:
        remarks.append(
            f"That is {periods:.2g} heave periods: inertia counts. Let the flow solver confirm it: "
            "sinkbowl run."
        )
    return remarks


def _by(figures: Mapping[str, Any]) -> str:
    """By which model."""
    best = figures["best"]
    return f"{figures['model']} model" if best is None else str(best["model"])


def _what(by: Variable, value: float, ratios: Sequence[float]) -> str:
    if by == "ballast":
        return f"a ring of {value * 1e3:.4g} g"
    if len(ratios) == 1:
        return f"a hole of {_mm(value)}"
    if min(ratios) == 1.0:
        return f"a set of {len(ratios)} holes of {_mm(value)}"
    return f"a set of holes of {', '.join(_mm(ratio * value) for ratio in ratios)}"


def _rows(figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Name and value of each line of the page; lines without a subject are left out."""
    names = {
        "head over the hole, empty": "head_m",
        "head that opens the hole": "breakthrough_head_m",
        "freeboard, set down empty": "freeboard_m",
        "section of the ring": "ring_section_m",
    }
    return [(name, _mm(figures[key])) for name, key in names.items() if figures[key] is not None]


def _drill_lines(figures: Mapping[str, Any]) -> list[str]:
    """Table of the drills and the sources of series and tolerance."""
    lines = ["Drills that can be bought:", _table_row(HEADINGS)]
    for drill in figures["drills"]:
        cells = (
            _mm(drill["diameter_m"]) + ("" if drill["starts"] else ", plugged"),
            _time(drill["sinking_time_s"]),
            _percent(drill["off_by"]),
            _mm(drill["widest_m"]),
            _time(drill["sinking_time_at_widest_s"]),
            _percent(drill["tolerance_costs"]),
        )
        lines.append(_table_row(cells))
    series, tolerance = figures["drill_series"], figures["drill_tolerance"]
    return [*lines, f"  Series: {series}.", f"  Hole: {tolerance}."]


def _table_row(cells: tuple[str, ...]) -> str:
    return "  " + "".join(f"{cell:<15}" for cell in cells).rstrip()


def _time(time: float | None) -> str:
    return "floats" if time is None else seconds(time)


def _percent(share: float | None) -> str:
    return "" if share is None else f"{share:+.1%}".replace("%", " %")


def _mm(length: float) -> str:
    return f"{length * 1e3:.4g} mm"
