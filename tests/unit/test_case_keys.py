"""Numeric keys from outside a case file, and case text with other values in it."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sinkbowl.case.case import load_case, parse_case
from sinkbowl.case.keys import numeric_key, numeric_keys, text_with
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import InputRefused


def test_every_number_of_a_case_file_is_a_numeric_key_and_no_word_is():
    """Words of the case file are its shape, outline, edge, kind and wall; from first principles."""
    known = numeric_keys()
    for key in ("bowl.mass", "ballast.mass", "hole.diameter", "water.temperature", "flow.cell"):
        assert known[key].kind is not None
    assert known["hole.discharge_coefficient"].kind is None
    assert not {"bowl.shape", "bowl.profile", "hole.edge", "start.kind", "flow.wall"} & set(known)
    assert "flow.surface_tension" not in known
    assert all(entry.description for entry in known.values())


def test_examples_of_all_keys_are_read_by_them():
    for entry in numeric_keys().values():
        given = entry.example if entry.kind or "uncertainty" not in entry.name else "0.02"
        assert entry.value(given).written == (given if entry.kind else float(given))


def test_value_between_is_written_in_the_unit_of_its_neighbour():
    """25.4 mm an inch, 273.15 K at 0 degC: definitions of the units."""
    length = numeric_key("hole.diameter")
    assert length.value_like(0.0127, "1 in").written == "0.5 in"
    assert length.value_like(0.0138181818181818, "6mm").short == "13.82 mm"
    temperature = numeric_key("water.temperature").value_like(300.0, "20 degC")
    assert temperature.written == "26.85 degC"
    assert temperature.number == pytest.approx(300.0, rel=1e-12)


def test_plain_numbers_are_si():
    assert numeric_key("hole.diameter").value(0.006).number == 0.006
    assert numeric_key("water.contact_angle").value(1.0).number == 1.0


@pytest.mark.parametrize(
    ("key", "given", "says"),
    [
        ("hole.diameter", "6", "no unit"),
        ("hole.diameter", "6 g", "not a length"),
        ("hole.diameter", float("nan"), "finite"),
        ("hole.discharge_coefficient", "0.6 mm", "plain number"),
    ],
)
def test_value_of_another_kind_is_refused(key, given, says):
    with pytest.raises(InputRefused, match=says):
        numeric_key(key).value(given)


@pytest.mark.parametrize(
    ("name", "near"),
    [("hole.diametre", "hole.diameter"), ("push", "start.push"), ("hole.edge", "Known are|mean")],
)
def test_unknown_key_is_refused_with_a_suggestion(name, near):
    with pytest.raises(InputRefused) as caught:
        numeric_key(name)
    assert any(word in caught.value.allowed for word in near.split("|"))


def test_remarks_stay_and_only_the_value_changes():
    text = shipped_case("beech-dish-brass-ring").read_text(encoding="utf-8")
    changed = text_with(text, {"ballast.mass": "45 g", "water.temperature": "30 degC"})
    wanted = text.replace('"60 g"', '"45 g"').replace('"20 degC"', '"30 degC"')
    assert changed == wanted


def test_key_and_table_that_are_not_there_are_added():
    case = load_case(shipped_case("open-ring"))
    text = text_with(case.text, {"flow.cell": "3 mm", "hole.discharge_coefficient": 0.6})
    other = parse_case(text, Path(), "ring.toml")
    assert other.flow.cell == 0.003
    assert other.hole.discharge_coefficient == 0.6
    assert text.startswith(case.text[: case.text.index("[hole]")])


@given(st.floats(0.1, 90.0), st.sampled_from(["\n", "\r\n"]))
def test_any_hole_goes_into_the_text_and_comes_back(hole, newline):
    text = shipped_case("steel-cup").read_text(encoding="utf-8").replace("\n", newline)
    changed = text_with(text, {"hole.diameter": f"{hole!r} mm"})
    assert tomllib.loads(changed)["hole"]["diameter"] == f"{hole!r} mm"
    assert len(changed) == len(text) - len("20") + len(repr(hole))
