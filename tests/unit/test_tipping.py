"""A bowl that tips: heel against filling, and the moment at which a point of its rim goes under."""

import numpy as np
import pytest

from cups import cup, top_heavy_cup
from sinkbowl.case.case import Case
from sinkbowl.design.checking import check
from sinkbowl.reduced import sinkings
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.heel import flooding_heel, resting_heel, righting_arm
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.stability import centres, metacentric_height
from sinkbowl_post.check.figure import check_figure


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


def test_a_cup_that_heels_comes_to_rest_at_the_wall_sided_angle():
    case = cup(5, radius=40, height=88, mass=270)
    heel = resting_heel(case, -case.bowl.base_thickness)
    assert heel == pytest.approx(wall_sided_heel(case), rel=1e-5)


def test_a_cup_whose_wall_sided_angle_lies_beyond_that_of_its_rim_is_not_held():
    """Two millimetres taller: 42.8 deg wanted, and its rim dips at 42.1."""
    case = cup(5, radius=40, height=90, mass=270)
    dry = -case.bowl.base_thickness
    assert wall_sided_heel(case) > flooding_heel(case, dry)
    assert resting_heel(case, dry) is None


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
