"""The figure of a check, and the centres that it shows."""

from itertools import pairwise
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from cups import cup_text
from sinkbowl.case.case import load_case, parse_case
from sinkbowl.statics.stability import centres, metacentric_height
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.drawing import spread
from sinkbowl_post.style import save_figure
from text_boxes import overlapping
from trials import DENSITY, MASS, RADIUS, cup_case

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
