"""A verification case says rightly whether it holds."""

import math

import pytest

from sinkbowl.verification.verification_case import VerificationCase


@pytest.mark.parametrize(
    ("ours", "passed"), [(2.019, True), (1.981, True), (2.03, False), (1.97, False)]
)
def test_within_looks_to_both_sides(ours, passed):
    """One per cent of 2.0, by hand."""
    assert VerificationCase("n", "s", 2.0, ours, 0.01).passed is passed


@pytest.mark.parametrize(("ours", "passed"), [(1.8, True), (9.0, True), (1.79, False)])
def test_at_least_looks_down_only(ours, passed):
    """From first principles."""
    assert VerificationCase("n", "s", 1.8, ours, 0.0, kind="at least").passed is passed


@pytest.mark.parametrize("kind", ["within", "at least"])
def test_what_is_not_a_number_never_passes(kind):
    """From first principles."""
    assert not VerificationCase("n", "s", 1.0, math.nan, 1.0, kind=kind).passed


def test_the_error_has_the_sign_of_what_is_too_much():
    """By hand: 1.1 against 1.0."""
    assert VerificationCase("n", "s", 1.0, 1.1, 0.2).error == pytest.approx(0.1)
