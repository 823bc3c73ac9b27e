"""The figure of a check and the centres that it shows; the trial sheet fits on its page."""

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from cups import cup_text
from sinkbowl.bowl.ballast import Ballast, Tube
from sinkbowl.case.case import load_case, parse_case
from sinkbowl.statics.hydrostatics import dry_draft
from sinkbowl.statics.stability import centres, metacentric_height
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.check.sheet import CAUTIONS, COLUMNS, Sheet, trial_sheet
from sinkbowl_post.check.sheet_pdf import VALUES, sheet_figure, write_sheet
from sinkbowl_post.cli import main
from sinkbowl_post.drawing import spread
from sinkbowl_post.style import save_figure
from text_boxes import overlapping
from trials import CASE_TEXT, DENSITY, MASS, RADIUS, cup_case, sinking_time

CASES = Path(__file__).parents[2] / "cases"
SHIPPED = sorted(path.stem for path in CASES.glob("*.toml"))

BEAKER = cup_text(4, title="Tall steel beaker", radius=35, height=110, wall=1.5, base=1.5, mass=180)


def test_centres_of_a_cup_are_those_of_a_cylinder():
    """KB = D / 2 and BM = R^2 / (4 D) for an upright cylinder (textbook naval hydrostatics)."""
    found = centres(cup_case())
    draft = MASS / (DENSITY * 3.141592653589793 * RADIUS**2)
    assert found.draft == pytest.approx(draft, rel=1e-6)
    assert found.buoyancy == pytest.approx(draft / 2, rel=1e-6)
    assert found.metacentre == pytest.approx(draft / 2 + RADIUS**2 / (4 * draft), rel=1e-6)


@pytest.mark.parametrize("name", ["beech-dish-brass-ring", "brass-cap", "lily-bowl"])
def test_metacentre_and_weight_lie_a_metacentric_height_apart(name):
    case = load_case(CASES / f"{name}.toml")
    found = centres(case)
    assert found.weight < found.metacentre
    upright = metacentric_height(case, -case.bowl.base_thickness)
    assert found.metacentre - found.weight == pytest.approx(upright)


def test_a_ring_under_the_bowl_lowers_weight_and_buoyancy():
    """Weights and displaced volumes by hand: G = (m z + m_r z_r) / (m + m_r)."""
    bare, ringed = (load_case(CASES / f"beech-dish-{n}.toml") for n in ("bare", "brass-ring"))
    alone, both = centres(bare), centres(ringed)
    expected = (bare.total_mass * alone.weight + 0.060 * -0.0035) / (bare.total_mass + 0.060)
    assert both.weight == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_bowl_has_its_figure(tmp_path, name):
    path = tmp_path / "figure.png"
    save_figure(check_figure(load_case(CASES / f"{name}.toml")), path)
    assert path.stat().st_size > 20_000


def texts(case_text: str) -> list[str]:
    figure = check_figure(parse_case(case_text, Path(), "c.toml"))
    found = [text.get_text() for text in figure.texts]
    for axes in figure.axes:
        found += [text.get_text() for text in axes.texts]
        found += [axes.get_xlabel(), axes.get_title(loc="left")]
    return found


def test_it_names_its_centres_and_units():
    shown = " ".join(texts(BEAKER))
    for word in (
        "centre of gravity G",
        "centre of buoyancy B",
        "metacentre M",
        "GM",
        "[mm]",
        "rim under",
        "dry",
    ):
        assert word in shown, shown


def test_a_bowl_that_tips_is_said_to_tip():
    shown = texts(BEAKER)
    assert shown[0].startswith("Tips when it is set down: its rim dips at ")
    assert "tips" in shown


def test_the_name_of_the_minimum_is_above_the_axis_and_a_short_gm_has_no_heads():
    figure = check_figure(parse_case(BEAKER, Path(), "c.toml"))
    figure.canvas.draw()
    section, curve = figure.axes[:2]
    (name,) = (one for one in curve.texts if "minimum" in one.get_text())
    assert name.get_window_extent().y0 >= curve.get_window_extent().y0
    (line,) = (one.arrow_patch for one in section.texts if getattr(one, "arrow_patch", None))
    assert line.get_arrowstyle().arrow == "-"


def test_a_bowl_too_heavy_to_float_has_no_stability_curve():
    figure = check_figure(parse_case(BEAKER.replace("180 g", "800 g"), Path(), "c.toml"))
    assert len(figure.axes) == 1
    assert "under at once" in figure.texts[0].get_text()


@pytest.mark.parametrize(
    ("heights", "gap"), [([3.0, 2.9, 2.8], 1.0), ([9.0, 5.0, 0.2], 1.0), ([9.9, 9.8, 0.0], 2.0)]
)
def test_names_keep_their_distance_and_their_order(heights, gap):
    placed = spread(heights[::-1], gap, gap / 2, 10.0 - gap / 2)[::-1]
    assert all(a - b >= gap - 1e-9 for a, b in pairwise(placed)), placed
    assert min(placed) >= gap / 2 - 1e-9
    assert max(placed) <= 10.0 - gap / 2 + 1e-9


@pytest.mark.parametrize("name", SHIPPED)
def test_texts_do_not_cover_each_other(name):
    assert overlapping(check_figure(load_case(CASES / f"{name}.toml"))) == []


@pytest.mark.parametrize("mass", ["300 g", "305 g", "310 g"])
def test_texts_do_not_cover_each_other_where_the_metacentric_height_is_small(mass):
    """Weight and metacentre within two millimetres of each other."""
    case = (CASES / "steel-cup.toml").read_text(encoding="utf-8").replace("200 g", mass)
    assert overlapping(check_figure(parse_case(case, Path(), "c.toml"))) == []


def test_texts_that_cover_each_other_are_found():
    figure = Figure()
    for x, told in ((0.5, "one"), (0.52, "another"), (0.1, "apart")):
        figure.text(x, 0.5, told)
    assert overlapping(figure) == [("one", "another")]


def words(sheet: Sheet) -> str:
    return "\n".join(text.get_text() for text in sheet_figure(sheet).texts)


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    text = CASE_TEXT.replace("[uncertainty]", "discharge_coefficient = 0.63\n[uncertainty]")
    return trial_sheet(parse_case(text, Path(), "cup.toml"))


def test_it_says_what_to_set_and_what_to_expect(sheet):
    """The time is the closed form's to 1 %: inertia matters little with an 8 mm hole."""
    text = words(sheet)
    for word in ("100 mm across", "8 mm in the centre", "200 g", "20 °C", "set it down gently"):
        assert word in text, text
    expected = dict(sheet.expected)
    seconds = float(expected["time until the rim is under"].split()[0])
    assert seconds == pytest.approx(sinking_time(0.63, 0.008), rel=0.01)
    low, high = (float(t) for t in re.findall(r"([\d.]+) s", expected["95 % of careful trials"]))
    assert low < seconds < high, expected
    draft = dry_draft(cup_case())
    assert f"{draft * 1e3:.3g} mm" in text


def test_it_has_the_usual_cautions_and_columns_that_fit_reads(sheet):
    text = words(sheet)
    for caution in CAUTIONS:
        assert caution in text, text
    for word in ("clamp", "eye protection", "away from the hand", "mains", "child", "supervisor"):
        assert word in " ".join(CAUTIONS)
    for column in COLUMNS:
        assert column in text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("beech-dish-brass-ring", "ballast ring"),
        ("beech-dish-bare", "stay afloat"),
        ("open-ring", "film it"),
        ("steel-cup", "heels"),
        ("lily-bowl", "push"),
    ],
)
def test_every_kind_of_bowl_has_its_sheet(name, word):
    text = words(trial_sheet(load_case(CASES / f"{name}.toml")))
    assert word in text, text


def test_a_plugged_bowl_is_told_its_push():
    text = words(trial_sheet(cup_case(hole_="0.8 mm")))
    assert "stay plugged" in text
    assert "A push of" in text


def test_ballast_has_its_shape_and_a_bowl_that_falls_over_is_said_to():
    pieces = (
        Tube(0.02, 0.02, 0.03, -0.001, 0.002),
        Tube(0.03, 0.05, 0.06, 0.012, 0.008, "", "band"),
    )
    case = cup_case(height="150 mm")
    text = words(trial_sheet(replace(case, ballast=Ballast(pieces))))
    for word in ("ballast washer", "2 mm thick", "ballast band", "8 mm wide"):
        assert word in text, text
    text = words(trial_sheet(case))
    assert "falls over when it is set down empty" in text
    assert "if it is kept upright" in text


def test_a_bowl_that_its_push_opens_does_not_start_by_itself():
    case = cup_case(hole_="0.8 mm")
    pushed = replace(case, start=replace(case.start, kind="push", push=1.0))
    text = words(trial_sheet(pushed))
    assert "the push or drop starts the flow" in text
    assert "start by itself" not in text


def test_all_texts_stay_on_the_page_even_under_a_long_title(sheet):
    for one in (
        sheet,
        replace(sheet, title="Bowl of a very long name " * 8, remarks=("x " * 150,)),
    ):
        figure = sheet_figure(one)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        width, height = canvas.get_width_height()
        names = {name for name, _ in (*one.settings, *one.expected)}
        for text in figure.texts:
            box = text.get_window_extent(canvas.get_renderer())
            assert box.x0 >= 0, text
            assert box.x1 <= 0.95 * width, text
            assert box.y0 >= 0.03 * height, text
            assert box.y1 <= height, text
            assert text.get_text() not in names or box.x1 <= (VALUES - 2) / 210 * width, text


def test_the_file_is_one_page_of_pdf_and_the_same_every_time(tmp_path, sheet):
    for name in ("a.pdf", "b.pdf"):
        write_sheet(sheet, tmp_path / name)
    content = (tmp_path / "a.pdf").read_bytes()
    assert content.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type /Page\b", content)) == 1
    assert content == (tmp_path / "b.pdf").read_bytes()


def test_the_command_writes_sheet_and_figure(tmp_path, capsys, written):
    case = written(CASE_TEXT)
    papers = tmp_path / "cup.pdf", tmp_path / "cup.png"
    with pytest.raises(SystemExit) as end:
        main(["check", str(case), "--sheet", str(papers[0]), "--figure", str(papers[1])])
    assert not end.value.code
    assert "written" in capsys.readouterr().out
    assert all(path.stat().st_size > 10_000 for path in papers)
