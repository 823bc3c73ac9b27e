"""How people write quantities besides "50 mm": 1,80 s, kg/m3, 5:00, 3/4 in, 22 C.

Each is set as a number with a unit that the registry knows; whatever is none of them stays.
"""

from __future__ import annotations

import re
from fractions import Fraction

from sinkbowl.common.errors import InputRefused

COMMA = re.compile(r"(\s*[+-]?[\d:]*\d),(\d+)(?![\d.,])([^,]*)")
"""A number with one comma in it, before and after which there are digits."""

THOUSANDS = re.compile(r"\s*[+-]?[1-9]\d{0,2}")
"""What stands before a comma that may part thousands, with three digits behind it."""

POWER = re.compile(r"(?<=[^\W\d_])(?=-?\d)")
"""Between a unit and its power, kg/m3."""

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

    Raises
    ------
    InputRefused : it has a comma that is not certain to be a decimal one
    """
    text = with_point(text)
    clock = CLOCK.fullmatch(text) if unit == "s" else None
    if clock and float(clock[3]) < 60.0:
        hours, minutes = int(clock[1] or 0), int(clock[2])
        return f"{3600 * hours + 60 * minutes + float(clock[3]):.12g} s"
    part = FRACTION.fullmatch(text)
    if part and int(part[3]) > 0:
        return f"{float(int(part[1] or 0) + Fraction(int(part[2]), int(part[3]))):.12g} {part[4]}"
    degrees = DEGREES.fullmatch(text) if temperature else None
    return f"{degrees[1]} deg{degrees[2]}" if degrees else text


def with_point(text: str) -> str:
    """A number with a decimal comma with a point instead.

    Raises
    ------
    InputRefused : a comma that is no decimal one, or that may part thousands
    """
    if "," not in text:
        return text
    match = COMMA.fullmatch(text)
    if match is None:
        raise InputRefused(
            "has a comma that is no decimal comma",
            'Write one number, with a point or one comma for its decimals: "1.8 s" or "1,8 s".',
        )
    whole, decimals, rest = match.groups()
    if len(decimals) == 3 and THOUSANDS.fullmatch(whole):
        raise InputRefused(
            "has a comma that can be a decimal one or part thousands",
            f'Write "{whole.strip()}.{decimals}{rest}" or "{whole.strip()}{decimals}{rest}".',
        )
    return f"{whole}.{decimals}{rest}"


def unit_respelt(unit: str) -> str:
    """A unit whose powers stand behind it as the registry wants them: kg/m3, kg·m-3."""
    return POWER.sub("^", unit).replace("·", "*")
