"""Metacentric heights and righting arms against closed forms."""

import numpy as np
import pytest

from cups import cup, top_heavy_cup
from sinkbowl.bowl import shapes
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.statics.heel import heeled_water, resting_heel, righting_arm
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.stability import (
    free_surface_loss,
    metacentric_height,
    stability_curve,
)

RING = """
[ballast]
mass = "60 g"
radius = "40 mm"
height = "{height} mm"
density = "8500 kg/m^3"
"""


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
    rings = (RING.format(height=-4), RING.format(height=50), "")
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


def test_filling_ends_where_the_rim_goes_under():
    curve = stability_curve(cup())
    assert curve.draft[-1] == pytest.approx(0.06, abs=1e-12)


def test_filling_of_a_light_bowl_ends_with_equal_levels():
    case = load_case(shipped_case("beech-dish-bare"))
    curve = stability_curve(case)
    head = curve.draft[-1] - curve.inner_level[-1] - case.bowl.inner_edge_height
    assert head == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("mass", [480, 1000])
def test_bowl_that_goes_under_at_once_has_no_filling(mass):
    assert stability_curve(cup(mass=mass)) is None


def test_bowl_without_a_base_has_no_filling():
    assert stability_curve(cup(hole=96)) is None


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


def test_tall_light_cup_tips_and_the_reference_cup_does_not():
    tall, reference = stability_curve(cup(height=150)), stability_curve(cup())
    assert tall.tips
    assert not reference.tips
    assert reference.minimum < 0


def test_bowl_that_fills_in_a_moment_has_no_time_to_tip():
    """A cup with a ring near its rim heels past the rim by statics, but with a hole of 85 mm it is
    under in a tenth of a second; a heel then grows by less than a half."""
    curve = stability_curve(top_heavy_cup(85, mass=200, ring="60 mm"))
    assert np.isnan(curve.heel).any()
    assert not curve.tips
    print("growth exponent", curve.growth)
    assert curve.growth < 0.5


def test_dish_with_its_ring_sinks_upright():
    curve = stability_curve(load_case(shipped_case("beech-dish-brass-ring")))
    assert curve.minimum > 0.005
    assert not curve.tips
