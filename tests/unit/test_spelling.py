"""Times by the clock, shares of an inch and degrees are understood as people write them."""

from pathlib import Path

import pytest

from cups import cup, cup_text
from sinkbowl.case.case import parse_case
from sinkbowl.case.keys import numeric_key
from sinkbowl.case.schema import DENSITY, LENGTH, MASS, TEMPERATURE, TEMPERATURE_UNCERTAINTY
from sinkbowl.common.errors import CaseError, InputRefused
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
        ("1,80 s", TIME, 1.8),
        ("1:30,5", TIME, 90.5),
        ("1,5e1 mm", LENGTH, 0.015),
        ("0,270 kg", MASS, 0.270),
        ("1.27 g/cm3", DENSITY, 1270.0),
        ("1270 kg/m3", DENSITY, 1270.0),
        ("1,27 g/cm³", DENSITY, 1270.0),
        ("1.27 g cm-3", DENSITY, 1270.0),
        ("22 C", TEMPERATURE, 295.15),
        ("72 F", TEMPERATURE, (72.0 - 32.0) / 1.8 + 273.15),
    ],
)
def test_it_is_the_number_that_everybody_means(written, kind, number):
    """An inch is 25.4 mm by definition; the Fahrenheit scale from memory."""
    assert read_quantity(written, kind) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "kind"),
    [("5:00", LENGTH), ("5:99", TIME), ("3/0 in", LENGTH), ("1 C", TEMPERATURE_UNCERTAINTY)],
)
def test_what_makes_no_sense_is_still_refused(written, kind):
    with pytest.raises(InputRefused):
        read_quantity(written, kind)


@pytest.mark.parametrize(
    ("written", "kind", "told"),
    [
        ("1,270 kg/m3", DENSITY, 'Write "1.270 kg/m3" or "1270 kg/m3"'),
        ("1,234.5 g", MASS, "one number"),
        ("12 mm, 8 mm", LENGTH, "one number"),
    ],
)
def test_a_comma_that_may_mean_two_things_is_named(written, kind, told):
    with pytest.raises(InputRefused, match="comma") as refused:
        read_quantity(written, kind)
    assert told in refused.value.allowed


@pytest.mark.parametrize("line", ["radius = 50,5", 'radius = "50 mm",'])
def test_a_comma_outside_of_quotes_is_named_with_its_line(line):
    with pytest.raises(CaseError, match=rf"Line 3 has a misplaced comma.*{line}"):
        parse_case(f"[bowl]\nshape = 'cup'\n{line}\n", Path(), "cup.toml")


def test_a_title_that_is_too_long_gets_a_sentence():
    with pytest.raises(CaseError, match=r"is too long\. Allowed are 200 characters"):
        parse_case(cup_text(8, title="x" * 300), Path(), "cup.toml")


def test_a_case_may_be_drilled_in_inches():
    case = cup("3/4 in", more='[water]\ntemperature = "22 C"')
    assert (case.hole.diameter, case.water.temperature) == pytest.approx((0.01905, 295.15))


def test_a_table_of_the_case_suggests_its_number():
    with pytest.raises(InputRefused) as refused:
        numeric_key("hole")
    assert "Did you mean hole.diameter?" in refused.value.allowed
