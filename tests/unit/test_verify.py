"""``sinkbowl verify``: verdicts, the table, what falls short in it, exit status; the version."""

import json
import math
from importlib.metadata import version

import pytest

from console import call
from sinkbowl.verification import VerificationCase, suite

GOOD = VerificationCase("weighed right", "by hand", 2.0, 2.01, 0.01, "kg", grids=(("coarse", 2.2),))
SHORT = VerificationCase("weighed wrong", "by hand", 2.0, 2.1, 0.01, "kg", note="an invented value")
ORDER = VerificationCase("order", "by hand", 1.8, 1.9, 0.0, kind="at least")


@pytest.fixture(autouse=True)
def _few_verifications(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two families of invented verification cases in place of the real ones."""
    families = {"scales": (lambda: (GOOD, ORDER),), "bad-scales": (lambda: SHORT,)}
    monkeypatch.setattr(suite, "FAMILIES", families)


def test_all_that_holds_ends_well(answer):
    """Exit status 0; errors by hand: 2.01 and 2.2 against 2 are +0.5 and +10 %."""
    shown = answer("verify", "--only", "scales")
    assert shown.startswith("2 of 2 checks pass.")
    assert "+0.50 %" in shown
    assert "coarse +10.00 %" in shown
    assert ">= 1.8" in shown
    assert "weighed wrong" not in shown


def test_what_falls_short_stays_in_the_table(capsys):
    """Exit status 1, and the verification case is named on the error stream too."""
    assert call("verify") == 1
    shown = capsys.readouterr()
    line = next(line for line in shown.out.splitlines() if "weighed wrong" in line)
    for words in ("2 kg", "2.1 kg", "+5.00 %", "1 %", "FAILS", "by hand"):
        assert words in line
    assert "weighed wrong: an invented value." in shown.out
    assert "1 of 3 fail: weighed wrong" in shown.err


def test_json_has_every_verification_and_the_verdict(capsys):
    """From first principles: the object says what the table says."""
    assert call("verify", "--json") == 1
    figures = json.loads(capsys.readouterr().out)
    assert figures["passed"] is False
    assert [check["passed"] for check in figures["checks"]] == [True, True, False]
    assert figures["checks"][2]["family"] == "bad-scales"
    assert figures["checks"][2]["error"] == pytest.approx(0.05)


def test_an_unknown_family_is_told_with_those_that_exist(refused):
    """Exit status 2: the input is wrong."""
    assert "scales, bad-scales" in refused("verify", "--only", "scale")


def test_progress_counts_the_checks():
    """From first principles: two families of one check each."""
    told = []
    suite.run_suite(["scales", "bad-scales"], lambda done, total: told.append((done, total)))
    assert told == [(1, 2), (2, 2)]


@pytest.mark.parametrize(
    ("reference", "ours", "kind", "passed"),
    [
        *((2.0, ours, "within", ours in (2.019, 1.981)) for ours in (2.019, 1.981, 2.03, 1.97)),
        *((1.8, ours, "at least", ours >= 1.8) for ours in (1.8, 9.0, 1.79)),
        (1.0, math.nan, "within", False),
        (1.0, math.nan, "at least", False),
    ],
)
def test_within_looks_to_both_sides_and_at_least_down_only(reference, ours, kind, passed):
    """One per cent of 2.0, by hand; what is not a number never passes."""
    allowed = 0.01 if kind == "within" else 0.0
    assert VerificationCase("n", "s", reference, ours, allowed, kind=kind).passed is passed


def test_the_error_has_the_sign_of_what_is_too_much():
    """By hand: 1.1 against 1.0."""
    assert VerificationCase("n", "s", 1.0, 1.1, 0.2).error == pytest.approx(0.1)


def test_the_version_is_that_of_the_package(answer):
    assert answer("--version") == f"sinkbowl {version('sinkbowl')}\n"
