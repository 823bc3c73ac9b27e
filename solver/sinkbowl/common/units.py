"""Quantities with units: texts such as "50 mm" become SI numbers.

No other module handles units. Pint's registry takes half a second to load, so it is loaded only for
units other than the usual ones, whose factors here equal pint's to the bit.

Other spellings, 1,80 s, kg/m3, 5:00, 3/4 in, 22 C, are first converted to a number with a unit of
the registry.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

from sinkbowl.common import ZERO_CELSIUS
from sinkbowl.common.errors import CaseError, InputRefused

COMMA = re.compile(r"(\s*[+-]?[\d:]*\d),(\d+)(?![\d.,])([^,]*)")
"""A number with one comma between digits."""

THOUSANDS = re.compile(r"\s*[+-]?[1-9]\d{0,2}")
"""Digits before a comma that may separate thousands, with three digits after it."""

POWER = re.compile(r"(?<=[^\W\d_])(?=-?\d)")  # between a unit and its power, kg/m3

CLOCK = re.compile(r"\s*(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:\.\d+)?)\s*")
"""Hours, minutes and seconds; two numbers are minutes and seconds."""

FRACTION = re.compile(r"\s*(?:(\d{1,3})[\s-]+)?(\d{1,3})/(\d{1,3})\s*([^\W\d_].*?)\s*")
"""A fraction, possibly with a whole number before it: 1 3/4 in."""

DEGREES = re.compile(r"(.*\d)\s*([CF])\s*")  # a temperature without a degree sign


def respelt(text: str, unit: str, temperature: bool = False) -> str:
    """A quantity as a number with a unit.

    text : as written
    unit : SI unit of what it should be; a clock's time is one of seconds
    temperature : whether it is a temperature, not a difference of two

    Raises InputRefused if it has a comma that may not be a decimal comma.
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
    """A number with a decimal point instead of a decimal comma.

    Raises InputRefused if a comma is no decimal comma, or may separate thousands.
    """
    if "," not in text:
        return text
    match = COMMA.fullmatch(text)
    if match is None:
        raise InputRefused(
            "has a comma that is not a decimal comma",
            'Write one number with one decimal point or comma: "1.8 s" or "1,8 s".',
        )
    whole, decimals, rest = match.groups()
    if len(decimals) == 3 and THOUSANDS.fullmatch(whole):
        raise InputRefused(
            "has a comma that could mean decimals or thousands",
            f'Write "{whole.strip()}.{decimals}{rest}" or "{whole.strip()}{decimals}{rest}".',
        )
    return f"{whole}.{decimals}{rest}"


def unit_respelt(unit: str) -> str:
    """A unit with powers as the registry expects them, from kg/m3 or kg·m-3."""
    return POWER.sub("^", unit).replace("·", "*")


NUMBER = re.compile(
    r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?|[+-]?nan|[+-]?inf(?:inity)?)\s*(.*?)\s*$"
)
"""A number and the rest; infinite numbers get another message than texts."""

FACTOR = r"°?[^\W\d_]+(?:(?:\^|\*\*)?-?[1-9]|[²³])?"
UNIT = re.compile(rf"{FACTOR}(?:\s*[*/·]\s*{FACTOR}|\s+{FACTOR})*")
"""Only names with small powers: the registry would evaluate any arithmetic."""

LONGEST_UNIT = 40
LONGEST = 200  # longest quantity [characters]; patterns could take for ever on longer ones

USUAL = {
    "m": {"m": 1.0, "cm": 0.01, "mm": 0.001},
    "s": {"s": 1.0, "ms": 0.001, "min": 60.0, "hour": 3600.0, "h": 3600.0, "day": 86400.0},
    "kg": {"kg": 1.0, "g": 0.001},
    "kg/m^3": {"kg/m^3": 1.0},
    "radian": {"deg": math.pi / 180.0},
    "N s": {"N s": 1.0},
    "N/m": {"mN/m": 0.001},
    "kg/kg": {"g/kg": 0.001},
    "K": {"K": 1.0},
}
"""Factors to the SI unit for the units of nearly all cases."""

CELSIUS = "degC"  # the usual unit of a temperature, and its zero [K]


@dataclass(frozen=True)
class Kind:
    """A kind of quantity and its allowed range.

    name : with its article, for messages: "a length"
    unit : SI unit
    low, high : bounds as text, "0.1 mm"
    example : e.g. "50 mm"
    """

    name: str
    unit: str
    low: str
    high: str
    example: str

    @property
    def hint(self) -> str:
        """Hint for messages."""
        return f'Write {self.name} with its unit, e.g. "{self.example}".'


def read_quantity(value: object, kind: Kind) -> float:
    """SI number of a quantity written as text.

    value : text such as "50 mm"; anything else is refused
    kind : the required kind

    Raises InputRefused if it is no text, has no unit or another dimension, or is not finite or out
    of range.
    """
    if not isinstance(value, str):
        raise InputRefused(
            "has no unit" if isinstance(value, int | float) else "is not text", kind.hint
        )
    if len(value) > LONGEST:
        raise InputRefused(f"has {len(value)} letters", kind.hint)
    result = _to_si(value, kind)
    low, high = _to_si(kind.low, kind), _to_si(kind.high, kind)
    slack = 1e-12 * max(abs(low), abs(high))
    if not low - slack <= result <= high + slack:
        raise InputRefused(
            "is out of range", f"Allowed is {kind.name} from {kind.low} to {kind.high}."
        )
    return result


def number_of(name: str, given: str | float, kind: Kind) -> float:
    """SI number of an option or argument: a text is read, a number is in SI units.

    name : of the option or the argument, for messages

    Raises CaseError as `read_quantity`.
    """
    text = given if isinstance(given, str) else f"{float(given)!r} {kind.unit}"
    try:
        return read_quantity(text, kind)
    except InputRefused as error:
        raise CaseError(str(error), key=name, given=given, allowed=error.allowed) from None


def spelt(text: str, kind: Kind) -> str:
    """A quantity in any spelling as a number with a unit."""
    return respelt(text, kind.unit, temperature=kind.name == "a temperature")


def unit_of(text: str) -> str:
    """The unit of a valid quantity, as written."""
    match = NUMBER.match(with_point(text))
    return match[2] if match else ""


def in_unit(number: float, unit: str, kind: Kind) -> float:
    """A number in the kind's SI unit, converted to another valid unit."""
    factor = USUAL.get(kind.unit, {}).get(unit_respelt(unit))
    if factor is not None:
        return number / factor
    if kind.unit == "K" and unit == CELSIUS:
        return number - ZERO_CELSIUS
    quantity = _registry().Quantity(number, kind.unit).to(unit_respelt(unit))
    return float(quantity.magnitude)


def _to_si(text: str, kind: Kind) -> float:
    """Number in the kind's SI unit, without a check of its range."""
    match = NUMBER.match(spelt(text, kind))
    if match is None or match[2].startswith("."):
        raise InputRefused(f"is not {kind.name}", kind.hint)
    number, unit = float(match[1]), match[2]
    if not math.isfinite(number):
        raise InputRefused("is not a finite number", kind.hint)
    if not unit:
        raise InputRefused("has no unit", kind.hint)
    return _convert(number, unit, kind)


def _convert(number: float, unit: str, kind: Kind) -> float:
    """Number in the kind's SI unit; InputRefused if the unit is unknown or of another kind."""
    factor = USUAL.get(kind.unit, {}).get(unit_respelt(unit))
    if factor is not None:
        return number * factor
    if kind.unit == "K" and unit == CELSIUS:
        return number + ZERO_CELSIUS
    import pint

    try:
        if len(unit) > LONGEST_UNIT or not UNIT.fullmatch(unit):
            raise pint.errors.UndefinedUnitError(unit)
        parsed = _registry().parse_units(unit_respelt(unit))
        quantity = _registry().Quantity(number, parsed)
        converted = quantity.to(kind.unit)
    except pint.errors.DimensionalityError:
        raise InputRefused(f"is not {kind.name}: the unit is {unit}", kind.hint) from None
    except (pint.errors.PintError, AttributeError, ValueError, TypeError):
        raise InputRefused(f"has an unknown unit ({unit})", kind.hint) from None
    # For the registry angles and shares are both plain numbers.
    if quantity.to_root_units().units != converted.to_root_units().units:
        raise InputRefused(f"is not {kind.name}: the unit is {unit}", kind.hint)
    return float(converted.magnitude)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()
