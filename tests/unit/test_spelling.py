"""Times by the clock, shares of an inch and degrees are understood as people write them."""

from __future__ import annotations

from pathlib import Path

import pytest

from sinkbowl.case.case import parse_case
from sinkbowl.case.keys import numeric_key
from sinkbowl.case.schema import LENGTH, TEMPERATURE, TEMPERATURE_SPREAD
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.units import Kind, read_quantity

TIME = Kind("a time", "s", "10 ms", "1000 hour", "5 min")


@pytest.mark.parametrize(
    ("written", "kind", "number"),
    [
        ("5:00", TIME, 300.0),
        ("0:04.5", TIME, 4.5),
        ("1:02:03", TIME, 3723.0),
        ("3/4 in", LENGTH, 0.75 * 0.0254),
        ("1 3/8 in", LENGTH, 1.375 * 0.0254),
        ("22 C", TEMPERATURE, 295.15),
        ("72 F", TEMPERATURE, (72.0 - 32.0) / 1.8 + 273.15),
    ],
)
def test_it_is_the_number_that_everybody_means(written: str, kind: Kind, number: float) -> None:
    """An inch is 25.4 mm by definition; the Fahrenheit scale from memory."""
    assert read_quantity(written, kind) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "kind"),
    [("5:00", LENGTH), ("5:99", TIME), ("3/0 in", LENGTH), ("1 C", TEMPERATURE_SPREAD)],
)
def test_what_makes_no_sense_is_still_refused(written: str, kind: Kind) -> None:
    with pytest.raises(InputRefused):
        read_quantity(written, kind)


def test_a_case_may_be_drilled_in_inches() -> None:
    text = """
        [bowl]
        shape = "cup"
        radius = "50 mm"
        height = "60 mm"
        wall = "2 mm"
        base = "2 mm"
        mass = "200 g"
        [hole]
        diameter = "3/4 in"
        [water]
        temperature = "22 C"
        """
    case = parse_case(text, Path(), "cup")
    assert case.hole.diameter == pytest.approx(0.01905)
    assert case.water.temperature == pytest.approx(295.15)


def test_a_table_of_the_case_suggests_its_number() -> None:
    with pytest.raises(InputRefused) as refused:
        numeric_key("hole")
    assert "Did you mean hole.diameter?" in refused.value.allowed
