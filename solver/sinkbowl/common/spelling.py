"""How people write quantities besides "50 mm": 5:00 for a time, 3/4 in for a length, 22 C.

Each is set as a number with a unit that the registry knows; whatever is none of them stays.
"""

from __future__ import annotations

import re
from fractions import Fraction

CLOCK = re.compile(r"\s*(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:\.\d+)?)\s*")
"""Hours, minutes and seconds; two numbers are minutes and seconds."""

FRACTION = re.compile(r"\s*(?:(\d{1,3})[\s-]+)?(\d{1,3})/(\d{1,3})\s*([^\W\d_].*?)\s*")
"""A share of a unit, perhaps with whole ones before it: 1 3/4 in."""

DEGREES = re.compile(r"(.*\d)\s*([CF])\s*")
"""A temperature without its degree."""


def respelt(text: str, unit: str, temperature: bool = False) -> str:
    """A quantity as a number with a unit.

    Parameters
    ----------
    text : as it is written
    unit : SI unit of what it should be; a clock's time is one of seconds
    temperature : whether it should be a temperature and not a difference of two
    """
    clock = CLOCK.fullmatch(text) if unit == "s" else None
    if clock and float(clock[3]) < 60.0:
        hours, minutes = int(clock[1] or 0), int(clock[2])
        return f"{3600 * hours + 60 * minutes + float(clock[3]):.12g} s"
    part = FRACTION.fullmatch(text)
    if part and int(part[3]) > 0:
        return f"{float(int(part[1] or 0) + Fraction(int(part[2]), int(part[3]))):.12g} {part[4]}"
    degrees = DEGREES.fullmatch(text) if temperature else None
    return f"{degrees[1]} deg{degrees[2]}" if degrees else text
