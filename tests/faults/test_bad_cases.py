"""Bad input: every refusal names the file, the key, what was given and what would do."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cups import cup_text
from sinkbowl.case.case import Case, load_case, parse_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError, ResultError
from sinkbowl.files.result import read_result

CUP = cup_text(title="Cup", more='discharge_coefficient = 0.61\n[start]\nkind = "set down"')

# Volume 2 pi^2 R a^2 (Pappus): this ring's section has a radius a of 2.9955 mm.
RING = 'mass = "45 g"\nradius = "30 mm"\ndensity = "8475 kg/m^3"\n'


def refusal(text: str, folder: Path = Path()) -> CaseError:
    with pytest.raises(CaseError) as caught:
        parse_case(text, folder, "cases/cup.toml")
    print(caught.value)
    assert str(caught.value).startswith("cases/cup.toml: ")
    return caught.value


@pytest.mark.parametrize(
    ("old", "new", "key", "says"),
    [
        # unknown keys
        ("radius =", "radus =", "bowl.radus", "Did you mean bowl.radius?"),
        ("[hole]", "[holes]", "holes", "Did you mean hole?"),
        ("diameter =", "radius =", "hole.radius", "hole.diameter, twice the radius?"),
        ("radius =", "diameter =", "bowl.diameter", "bowl.radius, half of it?"),
        ("[start]", '[start]\ncontact_angle = "60 deg"', "start.contact_angle", "water.contact"),
        ("title =", 'colour = "red"\ntitle =', "colour", "Known keys are"),
        # values of the wrong kind
        ('"20 mm"', "20", "hole.diameter", "has no unit"),
        ('"20 mm"', '"20"', "hole.diameter", "has no unit"),
        ('"20 mm"', '"20 kg"', "hole.diameter", "not a length"),
        ('"20 mm"', '"20 mn"', "hole.diameter", "unknown unit"),
        ('"20 mm"', '"twenty"', "hole.diameter", "not a length"),
        ('"20 mm"', '["20 mm"]', "hole.diameter", "is not text"),
        ('"20 mm"', '"20 mm; 3"', "hole.diameter", "unknown unit"),
        ('"200 g"', '"200 mm"', "bowl.mass", "not a mass"),
        ('"cup"', '"bucket"', "bowl.shape", "'cup', 'cone', 'cap' or 'profile'"),
        ("0.61", '"0.61"', "hole.discharge_coefficient", "plain number"),
        ("0.61", "true", "hole.discharge_coefficient", "plain number"),
        ('"Cup"', "5", "title", "quotes"),
        ("[start]", '[flow]\nsurface_tension = "yes"\n[start]', "flow.surface_tension", "true"),
        ("[start]", 'flow = "fast"\n[start]', "hole.flow", "not a known key"),
        ('title = "Cup"', 'water = "cold"', "water", "not a table"),
        # not finite, negative, absurd
        ('"20 mm"', '"nan mm"', "hole.diameter", "not a finite number"),
        ('"20 mm"', '"inf mm"', "hole.diameter", "not a finite number"),
        ('"20 mm"', '"1e999 mm"', "hole.diameter", "not a finite number"),
        ('"20 mm"', '"0 mm"', "hole.diameter", "from 0.1 mm to 5 m"),
        ('"20 mm"', '"-20 mm"', "hole.diameter", "from 0.1 mm to 5 m"),
        ('"50 mm"', '"50 km"', "bowl.radius", "from 0.1 mm to 5 m"),
        ('"50 mm"', '"1e300 m"', "bowl.radius", "out of range"),
        ('"200 g"', '"-1 g"', "bowl.mass", "out of range"),
        ('"200 g"', '"1e9 kg"', "bowl.mass", "out of range"),
        ("0.61", "nan", "hole.discharge_coefficient", "plain number"),
        ("0.61", "-0.1", "hole.discharge_coefficient", "from 0.01 up to 1"),
        ("0.61", "1.2", "hole.discharge_coefficient", "up to 1"),
        ("[start]", '[water]\ntemperature = "120 degC"\n[start]', "water.temperature", "100 degC"),
        ("[start]", '[water]\ncontact_angle = "200 deg"\n[start]', "water.contact_angle", "180"),
        ("[start]", '[water]\ncontact_angle = "60 %"\n[start]', "water.contact_angle", "unit"),
        # geometry that cannot be made
        ('"20 mm"', '"98 mm"', "hole.diameter", "at most 96 mm"),
        ('wall = "2 mm"', 'wall = "50 mm"', "bowl.wall", "there is no room"),
        ('wall = "2 mm"', 'wall = "80 mm"', "bowl.wall", "there is no room"),
        ('base = "2 mm"', 'base = "60 mm"', "bowl.base", "thinner base"),
        # keys that do not go together
        ('base = "2 mm"\n', "", "bowl.base", "needs it"),
        ('base = "2 mm"', 'base = "2 mm"\nbase_radius = "30 mm"', "bowl.base_radius", "meaning"),
        ('mass = "200 g"\n', "", "bowl.mass", "one of the two"),
        ('mass = "200 g"', 'mass = "200 g"\ndensity = "8 g/cm^3"', "bowl.mass", "one of the two"),
        ('diameter = "20 mm"\n', "", "hole.diameter", "needed"),
        ('"set down"', '"drop"', "start.drop_height", "needs it"),
        ('"set down"', '"push"', "start.push", "needs it"),
        ('"set down"', '"held"', "start.draft", "needs it"),
        ('"set down"', '"held"\ndraft = "60 mm"', "start.draft", "less than 60 mm"),
        ('"set down"', '"set down"\ndraft = "9 mm"', "start.draft", 'set kind = "held"'),
        ('"set down"', '"drop"\ndrop_height = "9 mm"\ninside = "dry"', "start.inside", "held"),
        ('"set down"', '"set down"\npush = "1 N s"', "start.push", 'set kind = "push"'),
        # parts that do not fit into each other
        ("[start]", '[flow]\ntub_radius = "50 mm"\n[start]', "flow.tub_radius", "more than 50 mm"),
        ("[start]", '[flow]\ntub_depth = "6 cm"\n[start]', "flow.tub_depth", "more than 60 mm"),
        ("[start]", '[flow]\nbeach = "100 mm"\n[start]', "flow.beach", "less than 100 mm"),
        ("[start]", '[flow]\nbeach = "-1 mm"\n[start]', "flow.beach", "from 0 mm to 50 m"),
        ("[start]", '[flow]\ncell = "11 mm"\n[start]', "flow.cell", "at most 10 mm"),
        (
            "[start]",
            '[ballast]\nmass = "5 kg"\nradius = "9 mm"\nheight = "-4 mm"\n'
            'density = "8500 kg/m^3"\n[start]',
            "ballast.radius",
            "too small for a ring",
        ),
        ("[start]", '[ballast]\nmass = "45 g"\n[start]', "ballast.height", "lowest outer point"),
        *(
            ("[start]", f"[ballast]\n{RING}{height}\n[start]", "ballast.height", says)
            for height, says in (
                ('height = "-2 mm"', "nearest possible height is -3 mm"),
                ('height = "1 mm"', "nearest possible height is -3 mm"),
                ('height = "1.1 mm"', "nearest possible height is 5 mm"),
                ('height = "4.9 mm"', "nearest possible height is 5 mm"),
            )
        ),
    ],
)
def test_wrong_key_is_named_with_what_would_do(old, new, key, says):
    assert CUP.count(old) == 1
    error = refusal(CUP.replace(old, new))
    assert error.key == key
    assert key in str(error)
    assert says in str(error)


@pytest.mark.parametrize("height", ["-4 mm", "-3 mm", "5 mm", "61 mm"])
def test_ring_that_clears_the_shell_is_accepted(height):
    """Under the base, touching it or not, and lying on it."""
    ring = f'[ballast]\n{RING}height = "{height}"\n[start]'
    parse_case(CUP.replace("[start]", ring), Path(), "cup")


def test_smaller_hole_whose_base_the_ring_would_cut_is_refused():
    """A thin ring in a wide hole has no room in a narrow one."""
    ring = RING.replace("45 g", "1 g") + 'height = "1 mm"\n[start]'
    wide = CUP.replace('"20 mm"', '"80 mm"').replace("[start]", f"[ballast]\n{ring}")
    case = parse_case(wide, Path(), "cup")
    with pytest.raises(CaseError, match=r"ballast\.height = \"1 mm\" makes the ring"):
        case.with_hole(0.02)


@pytest.mark.parametrize("given_text", ['"98 mm"', '"-20 mm"', '"20 kg"', "20", '"nan mm"'])
def test_refusal_repeats_what_was_given(given_text):
    error = refusal(CUP.replace('"20 mm"', given_text))
    assert f"hole.diameter = {given_text}" in str(error)


@pytest.mark.parametrize(
    ("shape", "says"),
    [
        ('shape = "cap"\nradius = "50 mm"\nheight = "40 mm"\nwall = "40 mm"', "there is no room"),
        ('shape = "cap"\nradius = "50 mm"\nheight = "3 mm"\nwall = "3 mm"', "there is no room"),
        (
            'shape = "cone"\nradius = "60 mm"\nbase_radius = "5 mm"\nheight = "50 mm"\n'
            'wall = "9 mm"\nbase = "2 mm"',
            "there is no room",
        ),
    ],
)
def test_curved_and_slanted_bowls_need_room_inside_too(shape, says):
    error = refusal(f'[bowl]\n{shape}\nmass = "200 g"\n[hole]\ndiameter = "10 mm"\n')
    assert error.key == "bowl.wall"
    assert says in str(error)


def test_hole_wider_than_a_cap_is_refused():
    text = '[bowl]\nshape = "cap"\nradius = "50 mm"\nheight = "40 mm"\nwall = "2 mm"\n'
    error = refusal(text + 'mass = "200 g"\n[hole]\ndiameter = "99 mm"\n')
    assert error.key == "hole.diameter"
    assert "wider than the inside of the bowl" in str(error)


PROFILE = '[bowl]\nshape = "profile"\nprofile = "o.csv"\nwall = "2 mm"\nmass = "200 g"\n'
PROFILE += '[hole]\ndiameter = "10 mm"\n'
GOOD = "r [mm],z [mm]\n5,0\n40,0\n50,40\n"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "is not there"),
        (b"", "has 0 points"),
        (b"r,z\n0.01,0\n", "has 1 points"),
        (b"r,z\n0.01,0\n0.05\n", "line 3: one number"),
        (b"r,z\n0.01,0\n0.05,x\n", 'line 3: "0.05, x" are not two numbers'),
        (b"0.01,0\nnan,0.04\n", "line 2: a number is not finite"),
        (b"nan,0\n0.05,0.04\n", "line 1: a number is not finite"),
        (b"0.01,0\n-0.05,0.04\n", "line 2: r = -0.05 is negative"),
        (b"x,y\n0.01,0\n0.05,0.04\n", 'header "x, y" is not known'),
        (b"r [kg],z [kg]\n10,0\n50,40\n", "the unit kg"),
        (b"0,0\n20,0\n50,40\n", "r [mm], z [mm]"),
        (b"r [mm],z [mm]\n50,40\n40,0\n5,0\n", "Reverse the order"),
        (b"r [mm],z [mm]\n5,0\n40,30\n50,10\n", "rim"),
        (b"r [mm],z [mm]\n5,0\n50,20\n20,20\n60,0\n60,40\n", "crosses itself"),
        (b"\xff\xfe\x00r", "not UTF-8 text"),
        (b"\x00\x01\x02", "header"),
        (b"0.01,0\n" * 6000, "more than 5000 points"),
    ],
)
def test_unreadable_outline_is_refused(content, says, tmp_path):
    if content is not None:
        (tmp_path / "o.csv").write_bytes(content)
    error = refusal(PROFILE, tmp_path)
    assert error.key == "bowl.profile"
    assert 'bowl.profile = "o.csv"' in str(error)
    assert says in str(error)


def test_hole_inside_a_curved_outline_is_refused_but_a_flat_one_goes_on(tmp_path, written):
    file = written("r [mm],z [mm]\n15,0\n40,0\n50,40\n", "o.csv")
    assert parse_case(PROFILE, tmp_path, "flat").with_hole(0.004).bowl.hole_radius == 0.002
    file.write_text("r [mm],z [mm]\n15,0\n40,10\n50,40\n", encoding="utf-8")
    error = refusal(PROFILE, tmp_path)
    assert error.key == "hole.diameter"
    assert "30 mm" in str(error)
    assert "Start the outline on the axis" in str(error)


def test_radius_that_contradicts_the_outline_is_refused(tmp_path):
    (tmp_path / "o.csv").write_text(GOOD, encoding="utf-8")
    parse_case(PROFILE.replace("wall", 'radius = "50 mm"\nwall'), tmp_path, "agrees")
    error = refusal(PROFILE.replace("wall", 'radius = "55 mm"\nwall'), tmp_path)
    assert error.key == "bowl.radius"
    assert "disagrees with the outline (50 mm)" in str(error)


@pytest.mark.parametrize("name", ["o.stl", "o.vtu", "o.pdf", "o"])
def test_file_that_is_no_mesh_is_refused(name, tmp_path):
    (tmp_path / name).write_bytes(b"not a mesh\n")
    error = refusal(PROFILE.replace("o.csv", name), tmp_path)
    assert error.key == "bowl.profile"
    assert "mesh" in str(error)


def test_missing_case_file_is_refused_with_its_neighbours(tmp_path):
    (tmp_path / "cup.toml").write_text(CUP, encoding="utf-8")
    with pytest.raises(CaseError, match=r"is not there.*cup\.toml"):
        load_case(tmp_path / "cap.toml")
    with pytest.raises(CaseError, match="folder"):
        load_case(tmp_path)


def test_case_and_result_taken_for_each_other_are_told_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "cup.toml").write_text(CUP, encoding="utf-8")
    (tmp_path / "cup.h5").write_bytes(b"\x80")
    with pytest.raises(CaseError, match="`sinkbowl compare`"):
        load_case(tmp_path / "cup.h5")
    with pytest.raises(ResultError, match=r"sinkbowl run .*cup\.toml"):
        read_result(tmp_path / "cup.toml")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff\xfe[\x00b\x00", "is not UTF-8 text"),
        (CUP.encode("utf-16"), "is not UTF-8 text"),
        (b"\x80", "is not UTF-8 text"),
        (b"[bowl", "Not a TOML file"),
        (b"[bowl]\nshape = cup\n", "line 2, shape = cup: Invalid value"),
        (
            "[bowl]\nshape = \N{LEFT DOUBLE QUOTATION MARK}cup\n".encode(),
            "Line 2 has curved quotes",
        ),
        (b"\x00\x00", "Not a TOML file"),
        (b"x = " + b"[" * 5000, "Not a TOML file"),
        (b"", "bowl is missing"),
        (b"# " + b"x" * 2_000_000, "too long"),
    ],
)
def test_file_that_is_no_case_is_refused(content, says, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_bytes(content)
    with pytest.raises(CaseError, match=says) as caught:
        load_case(file)
    assert str(file) in str(caught.value)


def test_case_with_a_byte_order_mark_is_read(tmp_path):
    file = tmp_path / "cup.toml"
    file.write_bytes(b"\xef\xbb\xbf" + CUP.encode())
    assert load_case(file).title == "Cup"


@pytest.mark.parametrize("diameter", [0.0, 1e-5, -0.01, float("nan"), float("inf"), 0.098])
def test_another_hole_that_cannot_be_drilled_is_refused(diameter):
    case = load_case(shipped_case("steel-cup"))
    with pytest.raises(CaseError) as caught:
        case.with_hole(diameter)
    assert caught.value.key == "hole.diameter"
    assert "steel-cup.toml" in str(caught.value)


@pytest.mark.parametrize(
    "hole",
    ['hole = { diameter = "20 mm" }', "hole.diameter = '20 mm'", '"hole"."diameter"="20 mm"'],
)
def test_hole_is_replaced_however_toml_allows_it_to_be_written(hole):
    text = f'# diameter = "20 mm"\n{hole}\n' + CUP.split("[hole]")[0]
    other = parse_case(text, Path(), "cup.toml").with_hole(0.01)
    assert other.text == text.replace(hole, hole.replace("'", '"').replace("20 mm", "10 mm"))


def outcome(text: str) -> Case | CaseError:
    try:
        return parse_case(text, Path(), "cup.toml")
    except CaseError as error:
        return error


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=30))
def test_no_text_in_place_of_a_quantity_breaks_the_reader(text):
    """Whatever stands there, it is a CaseError or a sane diameter."""
    quoted = text.encode("unicode_escape").decode().replace("\\x", "\\u00").replace('"', "'")
    result = outcome(CUP.replace('"20 mm"', f'"{quoted}"'))
    if isinstance(result, CaseError):
        assert str(result).startswith("cup.toml: ")
    else:
        assert 1e-4 <= result.hole.diameter <= 0.096


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(0.05, 200), min_size=4, max_size=4))
def test_any_sizes_make_a_bowl_with_a_positive_shell_or_a_refusal(sizes):
    radius, height, wall, hole = sizes
    result = outcome(
        cup_text(hole, radius=radius, height=height, wall=wall, base=wall, density="8 g/cm^3")
    )
    if isinstance(result, CaseError):
        assert result.key
    else:
        assert result.bowl.solid_volume > 0
        assert result.bowl.rim_height == pytest.approx(height * 1e-3)
