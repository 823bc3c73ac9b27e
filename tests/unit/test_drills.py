"""Preferred drills and how wide their holes come out."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sinkbowl.design.sizing.drills import SERIES, drill_not_below, drills_around, oversize

RANGES = ((3, 6), (6, 10), (10, 18), (18, 30), (30, 50), (50, 80), (80, 120))


@pytest.mark.parametrize(("low", "high"), RANGES)
def test_tolerance_of_a_drilled_hole_is_it12_of_iso_286(low, high):
    """IT12 = 160 i, i = 0.45 D^(1/3) + 0.001 D um, D [mm] the geometric mean of the range.

    ISO 286-1, from memory; its table is rounded up to the next preferred number (..., 15, 18, 21,
    25, 30, 35 in units of 10 um), by less than 5 % here.
    """
    mean = math.sqrt(low * high)
    exact = 160.0 * (0.45 * mean ** (1.0 / 3.0) + 0.001 * mean) * 1e-6
    given = oversize(high * 1e-3)
    assert exact <= given < 1.05 * exact, f"{given * 1e6:.0f} against {exact * 1e6:.1f} um"
    assert oversize(low * 1e-3 + 1e-6) == given


def test_hole_wider_than_the_table_has_no_tolerance():
    with pytest.raises(ValueError, match="150 mm"):
        oversize(0.150)


@given(st.floats(0.3e-3, 0.1))
def test_every_hole_of_the_series_lies_between_its_two_drills(diameter):
    """Steps of the series: 0.1 mm up to 14, 0.25 up to 32, 0.5 up to 50, 1 mm up to 100 mm."""
    step = next(
        step
        for limit, step in ((14.0, 0.1), (32.0, 0.25), (50.0, 0.5), (math.inf, 1.0))
        if diameter * 1e3 <= limit
    )
    near = drills_around(diameter)
    assert 1 <= len(near) <= 2
    if len(near) == 2:
        assert near[0] < diameter < near[1]
        assert near[1] - near[0] == pytest.approx(step * 1e-3, rel=1e-9)
    else:
        assert abs(near[0] - diameter) < 1.0e-6


@pytest.mark.parametrize("diameter", [0.5e-3, 3.3e-3, 14e-3, 14.25e-3, 32e-3, 32.5e-3, 51e-3, 0.1])
def test_preferred_diameter_is_its_own_drill(diameter):
    assert drills_around(diameter) == (pytest.approx(diameter, rel=1e-12),)
    assert drill_not_below(diameter) == pytest.approx(diameter, rel=1e-12)


def test_series_ends_where_drills_end():
    assert drills_around(0.1e-3) == ()
    assert drills_around(0.25e-3) == (pytest.approx(0.3e-3),)
    assert drills_around(0.1005) == (pytest.approx(0.1),)
    assert drills_around(0.102) == ()
    assert drill_not_below(0.102) is None
    assert drill_not_below(1.11e-3) == pytest.approx(1.2e-3)
    assert len(SERIES) == len(set(SERIES))
