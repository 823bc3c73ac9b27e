"""Wrong uncertainties in a case, and wrong questions on the command line."""

from pathlib import Path

import pytest

from console import call
from cups import cup_text, ring_text
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.sizing.sizing import size

CUP = cup_text(more="discharge_coefficient = 0.61")
RING = ring_text(45, 30)


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "cup.toml"
    path.write_text(CUP)
    return path


@pytest.mark.parametrize(
    ("line", "key", "says"),
    [
        # unknown, wrong kind
        ('diameter = "0.1 mm"', "uncertainty.diameter", "hole.diameter"),
        ('holes = "0.1 mm"', "uncertainty.holes", "Did you mean uncertainty.hole?"),
        ("hole = 0.05", "uncertainty.hole", "has no unit"),
        ('hole = "0.05"', "uncertainty.hole", "has no unit"),
        ('hole = "1 g"', "uncertainty.hole", "not an uncertainty of a length"),
        ('mass = "1 mm"', "uncertainty.mass", "not an uncertainty of a mass"),
        ('temperature = "1 degC"', "uncertainty.temperature", "in K from 0 K"),
        ('contact_angle = "1 mm"', "uncertainty.contact_angle", "not an uncertainty of an angle"),
        ('timing = "1 mm"', "uncertainty.timing", "not an uncertainty of a time"),
        (
            'discharge_coefficient = "0.02"',
            "uncertainty.discharge_coefficient",
            "is not a plain number",
        ),
        (
            "discharge_coefficient = true",
            "uncertainty.discharge_coefficient",
            "is not a plain number",
        ),
        # negative, not finite, absurd
        ('hole = "-0.1 mm"', "uncertainty.hole", "from 0 mm"),
        ('mass = "nan g"', "uncertainty.mass", "not a finite number"),
        ('timing = "inf s"', "uncertainty.timing", "not a finite number"),
        ('timing = "2 hours"', "uncertainty.timing", "to 1 hour"),
        ("discharge_coefficient = -0.1", "uncertainty.discharge_coefficient", "from 0 to 0.25"),
        ("discharge_coefficient = nan", "uncertainty.discharge_coefficient", "from 0 to 0.25"),
        ("discharge_coefficient = 0.5", "uncertainty.discharge_coefficient", "from 0 to 0.25"),
        # more than the value itself allows
        ('hole = "6 mm"', "uncertainty.hole", "at most 5 mm"),
        ('mass = "60 g"', "uncertainty.mass", "at most 50 g"),
        ('radius = "2 cm"', "uncertainty.radius", "at most 12.5 mm"),
        ('temperature = "25 K"', "uncertainty.temperature", "at most 20 K"),
        ('contact_angle = "70 deg"', "uncertainty.contact_angle", "at most 60 deg"),
        ("discharge_coefficient = 0.2", "uncertainty.discharge_coefficient", "at most 0.1525"),
    ],
)
def test_wrong_uncertainty_is_named_with_what_would_do(line, key, says):
    with pytest.raises(CaseError) as caught:
        parse_case(f"{CUP}[uncertainty]\n{line}\n", Path(), "cases/cup.toml")
    print(caught.value)
    assert str(caught.value).startswith("cases/cup.toml: ")
    assert caught.value.key == key
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("key", "says"),
    [("hole", "a hole of 96.4 mm is wider"), ("radius", "a hole of 95.9 mm is wider")],
)
def test_hole_that_does_not_fit_within_its_uncertainty_is_told_by_its_key(key, says):
    known = {"hole": "0 mm", "radius": "0 mm", key: "0.5 mm"}
    rows = "".join(f'{name} = "{value}"\n' for name, value in known.items())
    text = CUP.replace('"20 mm"', '"95.9 mm"') + "[uncertainty]\n" + rows
    with pytest.raises(CaseError) as caught:
        error_budget(parse_case(text, Path(), "cup"), "falling")
    assert caught.value.key == f"uncertainty.{key}"
    assert f'uncertainty.{key} = "0.5 mm" does not fit: {says}' in str(caught.value)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("size", "--time", "5"), ('--time = "5"', "has no unit", '"5 min"')),
        (("size", "--time", "5 mm"), ("--time", "not a time")),
        (("size", "--time", "0 s"), ("--time", "from 10 ms")),
        (("size", "--time", "-1 min"), ("--time", "out of range")),
        (("size", "--time", "nan s"), ("--time", "not a finite number")),
        (("size", "--time", "soon"), ("--time", "not a time")),
        (("size", "--time", "5 s", "--by", "rim"), ('"rim"', "hole and ballast")),
        (("size", "--time", "5 s", "--model", "falling"), ('"falling"', "heave, quasi-static")),
        (("size", "--time", "5 s", "--by", "ballast"), ("cup.toml: ballast is missing",)),
        (("check", "--model", "heave"), ('--model = "heave"', "belongs to --uncertainty")),
        (("check", "--difference", "1 s"), ("--difference", "belongs to --uncertainty")),
        (("check", "--uncertainty", "--difference", "0 s"), ("--difference", "from 0.1 ms")),
        (("check", "--uncertainty", "--difference", "1"), ("--difference", "has no unit")),
        (("check", "--uncertainty", "--model", "magic"), ('"magic"', "static, heave, falling")),
    ],
)
def test_question_that_cannot_be_answered_is_refused(case, refused, arguments, words):
    shown = refused(*arguments[:1], case, *arguments[1:])
    for word in words:
        assert word in shown, shown


def test_place_without_room_for_the_ring_that_is_needed_is_told():
    """A dish of wood over a ring that hangs as near as its gram of brass allows."""
    text = CUP.replace('mass = "200 g"', 'density = "690 kg/m^3"')
    ring = RING.replace("45 g", "1 g").replace("-4 mm", "-0.5 mm")
    with pytest.raises(CaseError, match=r"ballast\.height = \"-0.5 mm\" leaves no room") as caught:
        size(parse_case(text + ring, Path(), "cup"), 5.0, by="ballast")
    assert "1.26 g fit" in str(caught.value)


def test_ring_that_floats_sinks_no_bowl():
    text = CUP + RING.replace("8500", "600").replace("-4 mm", "-12 mm")
    with pytest.raises(CaseError, match=r"ballast\.density = \"600 kg/m\^3\" is not more than"):
        size(parse_case(text, Path(), "cup"), 5.0, by="ballast")


def test_wanted_time_is_asked_for(case):
    assert call("size", case) == 2


@pytest.mark.parametrize("command", [("size", "--time", "5 s"), ("check", "--uncertainty")])
def test_missing_or_wrong_case_is_named(tmp_path, refused, case, command):
    assert "none.toml" in refused(*command, tmp_path / "none.toml")
    case.write_text(CUP + '[uncertainty]\nhole = "30 mm"\n')
    assert 'uncertainty.hole = "30 mm"' in refused(*command, case)
