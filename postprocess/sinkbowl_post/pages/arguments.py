"""Quantities on the command line, read like those of a case file."""

from __future__ import annotations

from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.units import Kind, read_quantity

HEIGHT_WISHED = Kind("a metacentric height", "m", "-1 m", "1 m", "1 mm")
RING_STEP = Kind("a mass", "kg", "0.1 g", "10 kg", "10 g")
SINKING_TIME = Kind("a time", "s", "10 ms", "1000 hour", "5 min")
DIFFERENCE = Kind("a time", "s", "0.1 ms", "1000 hour", "50 ms")


def read_option(option: str, given: str, kind: Kind) -> float:
    """SI number of an option's quantity.

    Raises
    ------
    CaseError : no number, no unit, another kind or out of range
    """
    try:
        return read_quantity(given, kind)
    except InputRefused as error:
        raise CaseError(str(error), key=option, given=given, allowed=error.allowed) from None
