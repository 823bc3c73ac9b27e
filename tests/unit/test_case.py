"""Case files and keys: what is read, what follows from it, the cases that come with the package."""

import pickle
import tomllib
from pathlib import Path

import meshio
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from sinkbowl.bowl.outline import read_outline
from sinkbowl.case import schema as case_schema
from sinkbowl.case.case import load_case, parse_case
from sinkbowl.case.keys import numeric_key, numeric_keys, text_with
from sinkbowl.case.starter import BOWLS, STARTER_OUTLINE, shipped_case, shipped_cases, starter_case
from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.units import Kind, read_quantity
from sinkbowl.statics.hydrostatics import dry_draft, floats, mean_density

LENGTH = Kind("a length", "m", "0.1 mm", "5 m", "50 mm")
TEMPERATURE = Kind("a temperature", "K", "0 degC", "100 degC", "20 degC")


def test_reference_cup_is_exactly_what_everyone_compares_with():
    case = load_case(shipped_case("steel-cup"))
    bowl = case.bowl
    assert (bowl.rim_radius, bowl.rim_height, bowl.mass) == pytest.approx((0.05, 0.06, 0.2))
    assert bowl.straight_r == pytest.approx((0.01, 0.048, 0.05))
    assert bowl.base_thickness == pytest.approx(0.002)
    assert case.hole.discharge_coefficient == 0.61
    assert case.total_mass == 0.2
    assert not case.base_gone
    assert case.flow.tub_radius == pytest.approx(0.15)
    assert case.path == shipped_case("steel-cup")
    assert case.text == shipped_case("steel-cup").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(shipped_cases()))
def test_every_shipped_case_loads_and_floats_at_first(name):
    case = load_case(shipped_case(name))
    draft = dry_draft(case)
    assert 0 < draft < case.bowl.rim_height
    assert case.title


def test_ring_makes_the_beech_dish_sink():
    with_ring = load_case(shipped_case("beech-dish-brass-ring"))
    bare = load_case(shipped_case("beech-dish-bare"))
    assert floats(bare)
    assert not floats(with_ring)
    assert mean_density(with_ring) > 1.1 * with_ring.water.density


def test_tables_that_are_left_out_have_their_defaults():
    text = '[bowl]\nshape="cup"\nradius="50 mm"\nheight="60 mm"\nwall="2 mm"\nbase="2 mm"\n'
    case = parse_case(text + 'mass="200 g"\n[hole]\ndiameter="20 mm"\n', Path(), "folder/tea.toml")
    assert case.title == "tea"
    assert case.path is None
    assert case.water.temperature == 293.15
    assert case.contact_angle == pytest.approx(np.pi / 3)
    assert case.start.kind == "set down"
    assert not case.ballast
    assert case.flow.cell is None
    assert case.flow.tub_depth is None
    assert case.flow.wall == "no-slip"
    assert not case.flow.surface_tension
    assert case.hole.discharge_coefficient is None
    assert case.hole.area == pytest.approx(np.pi * 1e-4)


def test_another_hole_changes_bowl_and_text_and_nothing_else():
    case = load_case(shipped_case("beech-dish-brass-ring"))
    other = case.with_hole(0.0175)
    assert other.bowl.hole_radius == pytest.approx(0.00875)
    assert other.bowl.mass < case.bowl.mass
    assert other.text == case.text.replace('diameter = "12 mm"', 'diameter = "17.5 mm"')
    again = parse_case(other.text, Path(), "again")
    assert again.hole.diameter == pytest.approx(0.0175, rel=1e-12)
    assert again.bowl.mass == pytest.approx(other.bowl.mass, rel=1e-12)
    assert other.ballast == case.ballast


def test_mass_follows_from_density_and_volume_and_a_given_one_stays_with_another_hole():
    case = load_case(shipped_case("brass-cap"))
    assert case.bowl.mass == pytest.approx(8500 * case.bowl.solid_volume, rel=1e-12)
    case = load_case(shipped_case("steel-cup"))
    assert case.with_hole(0.07).bowl.mass == 0.2
    assert case.with_hole(0.096).base_gone
    assert not case.with_hole(0.092).base_gone


def test_case_survives_the_way_to_another_process():
    case = load_case(shipped_case("lily-bowl"))
    copy = pickle.loads(pickle.dumps(case))
    assert copy.bowl.outer == pytest.approx(case.bowl.outer)
    assert copy.with_hole(0.008).bowl.hole_radius == pytest.approx(0.004)


def test_a_refusal_survives_the_way_to_another_process():
    refused = CaseError("is too wide", file="cup.toml", key="hole.diameter", given="2 m")
    copy = pickle.loads(pickle.dumps(refused))
    assert str(copy) == str(refused) == 'cup.toml: hole.diameter = "2 m" is too wide.'
    assert (copy.file, copy.key, copy.given, copy.allowed) == (
        "cup.toml",
        "hole.diameter",
        "2 m",
        None,
    )


@pytest.mark.parametrize("shape", sorted(BOWLS))
def test_starter_case_loads_as_it_is(shape, tmp_path, written):
    (tmp_path / "outline.csv").write_text(STARTER_OUTLINE, encoding="utf-8")
    file = written(starter_case(shape), "my-bowl.toml")
    assert dry_draft(load_case(file)) is not None


@pytest.mark.parametrize("shape", ["cup", "cone", "cap"])
def test_remarks_of_the_starter_case_are_true_defaults_or_work_when_uncommented(shape):
    """Every remark that looks like a key, uncommented, is a key that loads."""
    lines = starter_case(shape).splitlines()
    keys = [line for line in lines if line.startswith("# ") and " = " in line]
    assert len(keys) >= 10
    live = "\n".join(line[2:] if line in keys or line.startswith("# [") else line for line in lines)
    needs = {"drop": ("drop_height",), "held": ("draft", "inside"), "push": ("push",)}
    for kind in needs:
        told = live.replace('kind = "set down"', f'kind = "{kind}"')
        for other in (name for k, names in needs.items() if k != kind for name in names):
            told = told.replace(f"\n{other} = ", f"\n# {other} = ")
        case = parse_case(told, Path(), "starter")
        assert case.start.kind == kind
    plain = parse_case(starter_case(shape), Path(), "starter")
    assert case.ballast
    assert case.start.push == 0.05
    assert (case.water.density, case.water.salinity) == (plain.water.density, 0.0)
    assert case.water.surface_tension == pytest.approx(plain.water.surface_tension, abs=1e-4)
    assert case.contact_angle == plain.contact_angle
    for key in ("answer", "hole", "surface_tension", "wall"):
        assert getattr(case.flow, key) == getattr(plain.flow, key)


def test_unknown_starter_shape_and_shipped_case_are_refused_with_the_list():
    with pytest.raises(CaseError, match="cup, cone, cap, profile"):
        starter_case("bucket")
    with pytest.raises(CaseError, match="Did you mean steel-cup"):
        shipped_case("steelcup")


def test_every_key_says_what_it_is():
    models = [m for m in vars(case_schema).values() if isinstance(m, type)]
    tables = [m for m in models if issubclass(m, BaseModel) and m is not BaseModel]
    assert len(tables) >= 7
    for table in tables:
        for name, field in table.model_fields.items():
            assert field.description, f"{table.__name__}.{name} has no description"


@pytest.mark.parametrize(
    ("text", "kind", "number"),
    [
        *((text, LENGTH, 0.05) for text in ("50 mm", "5cm", "0.05 m", "5e1 mm")),
        ("2 in", LENGTH, 0.0508),
        *((text, TEMPERATURE, 293.15) for text in ("20 degC", "20 °C", "68 degF", "293.15 K")),
    ],
)
def test_lengths_and_temperatures_are_read_in_any_usual_unit(text, kind, number):
    """Inch: 25.4 mm exactly (international yard and pound agreement, 1959)."""
    assert read_quantity(text, kind) == pytest.approx(number, rel=1e-14)


@given(st.floats(0.1, 5000.0))
def test_millimetres_come_through_unchanged(value):
    assert read_quantity(f"{value!r} mm", LENGTH) == pytest.approx(value * 1e-3, rel=1e-14)


OUTLINE = np.array([(0.0, 0.0), (0.02, 0.0), (0.05, 0.03), (0.06, 0.055)])


@pytest.mark.parametrize(
    "text",
    [
        "0,0\n0.02,0\n0.05,0.03\n0.06,0.055\n",
        "r,z\n0,0\n0.02,0\n0.05,0.03\n0.06,0.055\n",
        "# traced\n\nr [mm], z [mm]\n0,0\n20,0\n50,30\n60,55\n",
        "r_mm,z_mm\n0,0\n20,0\n50,30\n60,55\n",
        '"r (cm)","z (cm)"\n0,0\n2,0\n5,3\n6,5.5\n',
        "z [cm];name;r [mm]\n0;a;0\n0;b;20\n3;c;50\n5,5;d;60\n",
        "r\tz\n0\t0\n0,02\t0\n0,05\t0,03\n0,06\t0,055\n",
        "0 0\r\n0.02  0\r\n0.05 0.03\r\n0.06 0.055\r\n",
    ],
)
def test_outline_tables_are_read_in_the_usual_ways(text, tmp_path):
    file = tmp_path / "outline.csv"
    file.write_bytes(text.encode())
    assert read_outline(file).outer == pytest.approx(OUTLINE, abs=1e-15)


@pytest.mark.parametrize("suffix", [".vtu", ".vtk"])
def test_outline_is_read_from_the_lines_of_a_mesh(suffix, tmp_path):
    """Written by meshio itself, lines in any order and direction, axis z in three dimensions."""
    file = tmp_path / f"outline{suffix}"
    points = np.column_stack((OUTLINE[:, 0] * 0.6, OUTLINE[:, 0] * 0.8, OUTLINE[:, 1]))
    lines = np.array([[2, 1], [2, 3], [0, 1]])
    mesh = meshio.Mesh(points, [("line", lines)])
    meshio.write(file, mesh)
    assert read_outline(file).outer == pytest.approx(OUTLINE, abs=1e-12)


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


def test_value_between_is_written_in_the_unit_of_its_neighbour_and_plain_numbers_are_si():
    """25.4 mm an inch, 273.15 K at 0 degC: definitions of the units."""
    length = numeric_key("hole.diameter")
    assert length.value_like(0.0127, "1 in").written == "0.5 in"
    assert length.value_like(0.0138181818181818, "6mm").short == "13.82 mm"
    temperature = numeric_key("water.temperature").value_like(300.0, "20 degC")
    assert temperature.written == "26.85 degC"
    assert temperature.number == pytest.approx(300.0, rel=1e-12)
    assert length.value(0.006).number == 0.006
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
