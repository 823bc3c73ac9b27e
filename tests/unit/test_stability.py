"""Metacentric heights and righting arms against closed forms; bowls that tip."""

import numpy as np
import pytest

from cups import cup, ring_text, top_heavy_cup
from sinkbowl.bowl import shapes
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case, load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.design.checking import check
from sinkbowl.reduced import sinkings
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.heel import flooding_heel, heeled_water, resting_heel, righting_arm
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.stability import (
    centres,
    free_surface_loss,
    metacentric_height,
    stability_curve,
)
from sinkbowl_post.check.figure import check_figure


def test_dry_cup_has_the_metacentric_height_of_a_cylinder():
    """GM = KB + I / V - KG with KB = D / 2, I / V = R^2 / (4 D) (textbook; exact)."""
    case = cup()
    draft = 0.2 / (case.water.density * np.pi * 0.05**2)
    expected = draft / 2 + 0.05**2 / (4 * draft) - case.bowl.centroid_z
    assert metacentric_height(case, -case.bowl.base_thickness) == pytest.approx(expected, rel=1e-10)


def test_inner_water_costs_its_free_surface():
    """GM with level h: weights and water as solids, less rho I_i / (rho V), I_i = pi r^4 / 4
    (textbook; exact up to the plug of water in the hole, which is counted here)."""
    case, h = cup(), 0.02
    rho, r_i, plug = case.water.density, 0.048, np.pi * 0.01**2 * 0.002
    water = np.pi * r_i**2 * h
    displaced = 0.2 / rho + water + plug
    draft = displaced / (np.pi * 0.05**2)
    moment = 0.2 * case.bowl.centroid_z + rho * (water * (0.002 + h / 2) + plug * 0.001)
    gravity = moment / (rho * displaced)
    loss = np.pi * r_i**4 / 4 / displaced
    expected = draft / 2 + np.pi * 0.05**4 / 4 / displaced - gravity - loss
    assert metacentric_height(case, h) == pytest.approx(expected, rel=1e-10)


def test_free_surface_loss_of_two_slack_tanks_comes_out_as_in_the_deck_examination():
    """0.48 ft (0.4794) for 9000 long tons and two tanks 40 ft long and 30 ft wide, contents 0.86
    in water of 1.025: USCG deck examination question 0449. In feet, a cubic foot of sea water
    weighs 1/35 long ton."""
    inertia = 2 * 40 * 30**3 / 12
    loss = free_surface_loss(inertia, 0.86 / 1.025 / 35, 9000)
    print("loss [ft]", loss)
    assert loss == pytest.approx(0.4794, rel=1e-3)


def test_low_ballast_steadies_and_high_ballast_unsteadies():
    """Rule of the trade (common practice, no source)."""
    rings = (ring_text(height=-4), ring_text(height=50), "")
    low, high, bare = (stability_curve(cup(more=ring)).minimum for ring in rings)
    assert high < bare < low


def test_minimum_lies_on_no_higher_place_of_the_curve():
    for name in ("lily-bowl", "brass-cap", "beech-dish-brass-ring", "beech-dish-bare"):
        case = load_case(shipped_case(name))
        curve = stability_curve(case)
        assert curve.minimum <= curve.metacentric_height.min() + 1e-12
        level = np.linspace(0, curve.inner_level[-1], 1500)
        fine = min(metacentric_height(case, x) for x in level)
        assert curve.minimum == pytest.approx(min(fine, curve.metacentric_height[0]), abs=1e-6)


def test_filling_ends_where_the_rim_goes_under_or_with_equal_levels():
    assert stability_curve(cup()).draft[-1] == pytest.approx(0.06, abs=1e-12)
    case = load_case(shipped_case("beech-dish-bare"))
    curve = stability_curve(case)
    head = curve.draft[-1] - curve.inner_level[-1] - case.bowl.inner_edge_height
    assert head == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("sizes", [{"mass": 480}, {"mass": 1000}, {"hole": 96}])
def test_bowl_that_goes_under_at_once_or_has_no_base_has_no_filling(sizes):
    assert stability_curve(cup(**sizes)) is None


@pytest.mark.parametrize("level", [-0.002, 0.002, 0.01, 0.03])
def test_righting_arm_starts_with_the_slope_of_the_metacentric_height(level):
    """GZ -> GM phi as phi -> 0; at 1e-3 rad the next term is 1e-6 of BM (24 mm), the quadrature
    1e-6 m of slope."""
    case, heel = cup(), 1e-3
    arm = righting_arm(case, level, heel)
    print("GZ / phi", arm / heel, "GM", metacentric_height(case, level))
    assert arm / heel == pytest.approx(metacentric_height(case, level), abs=3e-6)


def test_righting_arm_of_a_dry_cup_follows_the_wall_sided_formula():
    """GZ = sin phi (GM + BM tan^2 phi / 2), exact for upright walls while base and rim stay clear
    (Scribanti; textbook). At 15 degrees the level moves 13 mm, the draft is 25 mm; 1e-5 m for the
    quadrature."""
    case, heel = cup(), np.radians(15)
    draft = draft_at(case, -case.bowl.base_thickness)
    upright = metacentric_height(case, -case.bowl.base_thickness)
    radius = 0.05**2 / (4 * draft)
    expected = np.sin(heel) * (upright + radius * np.tan(heel) ** 2 / 2)
    arm = righting_arm(case, -case.bowl.base_thickness, heel)
    print("GZ", arm, "wall-sided", expected)
    assert arm == pytest.approx(expected, abs=1e-5)


def test_heeled_water_in_a_sphere_is_the_upright_cap_turned():
    """A sphere looks the same however it heels: the level stays at the same distance from its
    centre, and the centre of the water lies on the vertical through it. 1e-5 for the polyline."""
    radius, heel, depth = 0.05, 0.3, 0.02
    bowl = Bowl.from_outlines(*shapes.drill(shapes.cap(radius, radius, 0.001), 0.0), 0.1)
    hull = bowl.outer_hull
    volume = np.pi * depth**2 * (3 * radius - depth) / 3
    water = heeled_water(hull, volume, heel)
    assert water.level == pytest.approx(radius * np.cos(heel) - (radius - depth), abs=2e-6)
    x, z = water.moment_x / volume, water.moment_z / volume - radius
    assert np.arctan2(x, -z) == pytest.approx(heel, abs=1e-4)


def test_film_of_water_makes_a_cup_lie_over_until_it_is_deep_enough():
    """Wedge of water at the low side: equilibrium of the reference cup lies at a few degrees, and
    it is upright again once its metacentric height is positive (rule of the trade: loll)."""
    case = cup()
    heel = resting_heel(case, 0.002)
    assert metacentric_height(case, 0.002) < 0
    arms = [righting_arm(case, 0.002, heel * factor) for factor in (0.7, 1.3)]
    assert arms[0] < 0 < arms[1]
    assert resting_heel(case, 0.02) == 0.0


def test_tall_light_cup_tips_and_the_reference_cup_and_a_dish_with_its_ring_do_not():
    tall, reference = stability_curve(cup(height=150)), stability_curve(cup())
    dish = stability_curve(load_case(shipped_case("beech-dish-brass-ring")))
    assert (tall.tips, reference.tips, dish.tips) == (True, False, False)
    assert reference.minimum < 0
    assert dish.minimum > 0.005


def test_bowl_that_fills_in_a_moment_has_no_time_to_tip():
    """A cup with a ring near its rim heels past the rim by statics, but with a hole of 85 mm it is
    under in a tenth of a second; a heel then grows by less than a half."""
    curve = stability_curve(top_heavy_cup(85, mass=200, ring=60))
    assert np.isnan(curve.heel).any()
    assert not curve.tips
    print("growth exponent", curve.growth)
    assert curve.growth < 0.5


@pytest.mark.parametrize("level", [-0.002, 0.005, 0.01, 0.018])
def test_a_straight_cup_floods_at_freeboard_over_radius(level):
    """A cylinder heels about the middle of its waterplane as long as that does not reach its base:
    tan(heel) = freeboard / radius, exactly (from first principles)."""
    case = cup(height=60, mass=300)
    draft = draft_at(case, level)
    tangent = (0.06 - draft) / 0.05
    assert 0.05 * tangent < draft, "the waterplane must not reach the base"
    assert np.tan(flooding_heel(case, level)) == pytest.approx(tangent, rel=1e-5)


def wall_sided_heel(case: Case) -> float:
    """Heel of rest [rad] of a dry cylinder with a negative metacentric height GM while its base
    stays wet: GZ = sin (GM + BM tan^2 / 2) = 0 (wall-sided formula, textbook naval hydrostatics,
    from memory; exact for upright walls)."""
    found = centres(case)
    height = metacentric_height(case, -case.bowl.base_thickness)
    return float(np.arctan(np.sqrt(-2.0 * height / (found.metacentre - found.buoyancy))))


def test_a_cup_that_heels_comes_to_rest_at_the_wall_sided_angle_unless_its_rim_dips_before():
    """Two millimetres taller: 42.8 deg wanted, and its rim dips at 42.1."""
    case, taller = (cup(5, radius=40, height=height, mass=270) for height in (88, 90))
    dry = -case.bowl.base_thickness
    assert resting_heel(case, dry) == pytest.approx(wall_sided_heel(case), rel=1e-5)
    assert wall_sided_heel(taller) > flooding_heel(taller, dry)
    assert resting_heel(taller, dry) is None


def test_a_top_heavy_cup_heels_more_and_more_until_its_rim_dips():
    """From first principles: every heel on the way is an angle without arm, and below that of the
    rim; at the last they meet."""
    case = top_heavy_cup()
    found = flooding(case)
    for level, heel in zip(found.inner_level[:-1], found.heel[:-1], strict=True):
        assert heel < flooding_heel(case, float(level))
        arm = righting_arm(case, float(level), float(heel))
        assert arm == pytest.approx(0.0, abs=1e-7), f"{level} m"
    assert np.all(np.diff(found.inner_level) >= 0.0)
    assert found.heel[-1] == found.flooding_heel == pytest.approx(found.heel[-2], rel=2e-3)
    assert not found.rolls
    assert resting_heel(case, found.level) is None
    assert resting_heel(case, found.level - 2e-6) is not None


def test_outcome_and_figures_tell_when_it_floods():
    """It comes to the level at which it floods later than an upright cup does, whose head its own
    is times the cosine of its heel (wall-sided theory; test_heeled_filling.py)."""
    result = check(top_heavy_cup())
    assert result.verdict == "tips"
    told = result.as_dict()["flooding"]
    for model in ("quasi-static", "heave"):
        sinking = result.reduced[model]
        floods = sinking.events["rim_dips"]
        assert sinking.events["tips"] < floods < sinking.events["rim_under"]
        assert f", water comes over the rim after {floods:.3g} s; kept upright: " in sinking.words
        assert "a point of the rim dips" in str(sinking)
        upright = np.interp(told["flooding_inner_level_m"], sinking.inner_level, sinking.t)
        assert upright < floods < upright / np.sqrt(np.cos(np.radians(told["flooding_heel_deg"])))
        assert result.as_dict()["heeled_time_s"][model] == floods
    assert f"of its rim is under after {result.heeled_time:.3g} s instead of" in repr(result)
    assert told["heel_deg"][-1] == told["flooding_heel_deg"]


def test_a_cup_that_no_heel_holds_as_it_is_set_down_floods_at_once():
    found = flooding(cup(height=150))
    assert found.rolls
    assert found.level == -0.002
    sinking = sinkings(cup(height=150))["heave"]
    assert sinking.events["rim_dips"] == sinking.events["tips"] == 0.0


def test_a_cup_that_stays_upright_or_rights_itself_never_floods_so():
    result = check(cup())
    assert flooding(cup()) is None
    assert result.as_dict()["flooding"] is None
    assert not any("rim_dips" in sinking.events for sinking in result.reduced.values())


def test_the_figure_shows_four_sections_with_their_heels():
    found = flooding(top_heavy_cup())
    rows = [
        axes for axes in check_figure(top_heavy_cup()).axes if axes.get_label().startswith("heel")
    ]
    assert len(rows) == 4
    told = [axes.texts[1].get_text() for axes in rows]
    assert told[0] == f"{np.degrees(found.heel[0]):.0f} deg, dry"
    assert told[-1].startswith(f"{np.degrees(found.flooding_heel):.0f} deg, level ")
    assert not any(axes.get_label().startswith("heel") for axes in check_figure(cup()).axes)
