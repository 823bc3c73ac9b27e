"""Error budget: uncertainties of the case, their way to the time, and what repeats can do."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ndtr

import cups
from sinkbowl.case.case import Case, parse_case
from sinkbowl.case.parts import usual_tub
from sinkbowl.common.errors import CaseError
from sinkbowl.corrected import MODELS
from sinkbowl.corrected.correction import without_map
from sinkbowl.corrected.model import best_time
from sinkbowl.design.budget.budget import Budget
from sinkbowl.design.budget.propagation import combined, distribution, response, samples
from sinkbowl.design.budget.repeats import power, repeats_needed
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.budget.variation import starting_coefficient, varied
from sinkbowl.statics.capillarity import hole_breakthrough_head
from sinkbowl.statics.hydrostatics import start_head
from sinkbowl_post.pages.uncertainty_page import uncertainty_page

NOTHING = {"hole": "0 mm", "mass": "0 g", "radius": "0 mm", "temperature": "0 K"}
NOTHING |= {"contact_angle": "0 deg", "discharge_coefficient": 0, "timing": "0 s"}


def cup(
    bowl_mass: float = 200.0,
    drill: float = 6.0,
    coefficient: str = "discharge_coefficient = 0.61",
    wall: float = 2.0,
    height: float = 60.0,
    more: str = "",
    **known: object,
) -> Case:
    """A cup 100 mm wide, lengths in mm, bowl_mass in g, with only these uncertainties."""
    rows = "\n".join(f"{name} = {json.dumps(v)}" for name, v in {**NOTHING, **known}.items())
    more = f"{coefficient}\n{more}\n[uncertainty]\n{rows}"
    return cups.cup(drill, title="Cup", height=height, wall=wall, mass=bowl_mass, more=more)


def effects(budget: Budget) -> dict[str, float]:
    return {row.name: row.effect for row in budget.contributions}


def test_the_table_of_uncertainties_is_read_under_its_old_name_but_not_under_both():
    """Case files and results of earlier versions have [spread]."""
    old = cups.cup_text(6, more='[spread]\nmass = "0.2 g"')
    assert parse_case(old, Path(), "cup").uncertainty.mass == pytest.approx(2e-4)
    with pytest.raises(CaseError, match="spread is the old name of"):
        parse_case(old + '\n[uncertainty]\nhole = "0.1 mm"', Path(), "cup")


def test_uncertainties_left_out_are_the_stated_defaults():
    """Defaults of `uncertainty` (common practice, no source) for a 6 mm hole and 200 g."""
    text = cups.cup_text(6, more='[uncertainty]\nmass = "0.2 g"')
    known = parse_case(text, Path(), "cup").uncertainty
    assert known.stated == {"mass"}
    assert known.mass == pytest.approx(2e-4)
    assert known.hole == pytest.approx(5e-5)
    assert known.radius == pytest.approx(2.5e-4)
    assert known.temperature == 1.0
    assert known.contact_angle == pytest.approx(math.radians(10.0))
    assert known.discharge_coefficient == 0.02
    assert known.timing == 0.1
    narrow = parse_case(text.replace("6 mm", "0.4 mm"), Path(), "cup").uncertainty
    assert narrow.hole == pytest.approx(2e-5)
    icy = text + '[water]\ntemperature = "0.5 degC"\ncontact_angle = "4 deg"'
    known = parse_case(icy, Path(), "cup").uncertainty
    assert known.temperature == pytest.approx(0.5)
    assert known.contact_angle == pytest.approx(math.radians(4.0))
    assert parse_case(text.replace('"6 mm"', '"96 mm"'), Path(), "cup").uncertainty.hole == 0.0


def test_bowl_was_weighed_so_its_mass_follows_nothing():
    case = cup()
    other = varied(case, {"hole": 1e-3, "radius": 1e-3, "temperature": 5.0, "mass": 0.01})
    assert other.total_mass == pytest.approx(0.21)
    assert other.hole.diameter == pytest.approx(7e-3)
    assert other.bowl.hole_radius == pytest.approx(3.5e-3)
    assert other.bowl.rim_radius == pytest.approx(0.051)
    assert other.bowl.rim_height == pytest.approx(0.06)
    assert other.water.temperature == pytest.approx(298.15)
    assert varied(case, {}).bowl.outer == pytest.approx(case.bowl.outer)


def test_missing_base_stays_missing_when_the_radius_is_varied():
    other = varied(cup(drill=96.0), {"radius": 1e-3})
    assert other.base_gone
    assert other.hole.diameter == pytest.approx(0.096 * 1.02)


def test_parabola_through_three_values_is_exact_for_one():
    """f = 3 + sum of 2 s - s^2 and 0.5 s^2; known in closed form."""
    curve = response(3.0, np.array([0.0, 3.5]), np.array([4.0, 3.5]))
    s = samples(2, 100)
    exact = 3.0 + 2.0 * s[:, 0] - s[:, 0] ** 2 + 0.5 * s[:, 1] ** 2
    assert curve.at(s) == pytest.approx(exact, rel=1e-12)


def test_draws_are_the_same_every_time_and_normal():
    """Mean 0, deviation 1, 95 % within 1.960 (standard normal), to four standard errors."""
    drawn = samples(3)
    assert np.array_equal(drawn, samples(3))
    found = distribution(drawn[:, 0])
    error = 1.0 / math.sqrt(len(drawn))
    assert abs(found.mean) < 4.0 * error
    assert found.deviation == pytest.approx(1.0, abs=4.0 * error / math.sqrt(2.0))
    # Standard error of a percentile: sqrt(p (1 - p) / n) / density there.
    edge = math.sqrt(0.025 * 0.975) * error / 0.0584
    assert (found.low, found.high) == pytest.approx((-1.95996, 1.95996), abs=4.0 * edge)


def test_independent_effects_combine_like_sides_of_a_box():
    assert combined(np.array([2.0, -3.0, 6.0])) == pytest.approx(7.0)


@pytest.mark.parametrize(
    ("difference", "trials"), [(0.5, 64), (0.8, 26), (1.0, 17)], ids=["medium", "large", "one"]
)
def test_repeats_are_those_of_the_published_table(difference, trials):
    """Cohen 1988, Statistical Power Analysis, table 2.4.1 (from memory): n of each of two samples,
    two-sided level 0.05, power 0.80, difference in standard deviations."""
    assert repeats_needed(difference, 1.0) == trials
    assert power(difference, 1.0, trials) >= 0.8
    assert power(difference, 1.0, trials - 1) < 0.8


def test_many_repeats_follow_the_normal_approximation():
    """n = 2 (1.95996 + 0.84162)^2 (s / D)^2: 15.698 / 0.05^2 = 6279.1."""
    assert repeats_needed(0.05, 1.0) == 6280
    # Just below the changeover the noncentral t agrees to a few trials.
    assert repeats_needed(0.09, 1.0) == pytest.approx(15.698 / 0.09**2, abs=3.0)


def test_without_scatter_two_trials_do():
    assert repeats_needed(1e-3, 0.0) == 2
    with pytest.raises(ValueError, match="above 0"):
        repeats_needed(0.0, 1.0)


@pytest.mark.parametrize("model", ["quasi-static", "heave"])
def test_estimated_coefficient_counts_like_a_given_one(model):
    """T ~ 1 / C for a small hole (Torricelli): effect -T u / C; 1 % for u = 0.02 and inertia."""
    case = cup(drill=4.0, coefficient="", discharge_coefficient=0.02)
    budget = error_budget(case, model)
    exact = -budget.time * 0.02 / starting_coefficient(case)
    found = effects(budget)["discharge_coefficient"]
    assert found == pytest.approx(exact, rel=0.01), f"{found:.4f} s against {exact:.4f} s"


C = "discharge_coefficient"
PLAIN = {
    "hole": ("0.3 mm", lambda s: {"drill": 40.0 + 0.3 * s}),
    "mass": ("2 g", lambda s: {"bowl_mass": 200.0 + 2.0 * s}),
    "discharge_coefficient": (0.02, lambda s: {"coefficient": f"{C} = {0.61 + 0.02 * s}"}),
    "temperature": ("10 K", lambda s: {"more": f'[water]\ntemperature = "{20.0 + 10.0 * s} degC"'}),
}
"""Of a cup with a 40 mm hole: uncertainty, and the case changed by so many of it."""


@pytest.mark.parametrize("name", PLAIN)
def test_effects_on_the_best_time_are_plain_differences_of_cases_typed_anew(name):
    """Half the difference of the best times of two cases from text (JCGM 100:2008, 5.1.3 note 2).
    Both sides solve to 1e-4 of the time; effects here are 0.3 to 3 % of it, water's warmth less."""
    uncertainty, changed = PLAIN[name]
    budget = error_budget(cup(drill=40.0, **{name: uncertainty}))
    low, high = (best_time(cup(**{"drill": 40.0, **changed(sign)})) for sign in (-1.0, 1.0))
    plain = 0.5 * (high.time - low.time)
    assert effects(budget)[name] == pytest.approx(plain, rel=0.02, abs=1e-4 * budget.time)
    others = {key: effect for key, effect in effects(budget).items() if key not in (name, "timing")}
    assert not any(others.values())


def test_shares_add_up_and_the_largest_comes_first():
    case = cup(timing="0.5 s", radius="0.1 mm", temperature="2 K")
    budget = error_budget(case, "quasi-static")
    shares = [row.share for row in budget.contributions]
    assert sum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert budget.contributions[0].name == "timing"
    assert budget.uncertainty == pytest.approx(math.hypot(budget.trial_scatter, budget.systematic))
    assert {row.name for row in budget.contributions if row.averages_out} == {
        "timing",
        "temperature",
        "contact_angle",
    }


def test_meniscus_holds_the_share_of_holes_below_its_edge():
    """Only the hole uncertain: share = Phi((d_edge - d) / u), d_edge where the gate just opens.
    Binomial error of 20 000 samples, four times, and the parabola's miss over a narrow range."""
    case = cup(drill=1.15, hole="0.03 mm")

    def excess(diameter: float) -> float:
        head = start_head(case)
        return head - hole_breakthrough_head(diameter, case.water, case.contact_angle)

    edge = brentq(excess, 0.8e-3, 1.5e-3)
    exact = float(ndtr((edge - 1.15e-3) / 3e-5))
    budget = error_budget(case, "quasi-static")
    assert 0.02 < exact < 0.5
    assert budget.plugged == pytest.approx(exact, abs=0.012), f"{budget.plugged} against {exact}"
    assert effects(budget)["contact_angle"] == 0.0


def test_contact_angle_alone_decides_only_whether_it_starts():
    case = cup(drill=1.15, contact_angle="10 deg")
    budget = error_budget(case, "quasi-static")
    assert budget.uncertainty == 0.0
    assert 0.0 < budget.plugged < 1.0
    pushed = cup(
        drill=1.15, contact_angle="10 deg", more='[start]\nkind = "push"\npush = "0.1 N s"'
    )
    assert error_budget(pushed, "quasi-static").plugged is None
    assert error_budget(case, "falling").plugged is None


def test_share_that_floats_is_that_of_the_masses_below_neutral():
    """Only the mass uncertain: share = Phi((rho V - m) / u) (Archimedes)."""
    plain = cup(bowl_mass=138.0, wall=8.0, height=50.0, drill=10.0)
    neutral = plain.water.density * plain.bowl.solid_volume
    mass = neutral + 0.6e-3
    case = cup(
        bowl_mass=mass * 1e3, wall=8.0, height=50.0, drill=10.0, mass="0.4 g", timing="0.1 s"
    )
    budget = error_budget(case, "quasi-static")
    exact = float(ndtr(-0.6 / 0.4))
    assert budget.time is not None
    assert budget.floating == pytest.approx(exact, abs=0.008), f"{budget.floating} against {exact}"
    assert "of the trials stop part-sunk" in uncertainty_page(budget)


def test_bowl_that_floats_has_no_time_to_spread():
    budget = error_budget(cup(bowl_mass=130.0, wall=8.0, mass="1 g"))
    assert budget.time is None
    assert budget.floating == 1.0
    assert budget.contributions == ()
    text = uncertainty_page(budget)
    assert "No time by the corrected model" in text
    assert "floats with draft" in text
    assert "100 % of the trials stop part-sunk" in text


def test_bowl_that_floats_within_its_uncertainty_is_told_so():
    plain = cup(bowl_mass=138.0, wall=8.0, height=50.0)
    mass = plain.water.density * plain.bowl.solid_volume + 0.2e-3
    case = cup(bowl_mass=mass * 1e3, wall=8.0, height=50.0, mass="0.5 g")
    budget = error_budget(case, "quasi-static")
    assert budget.time is None
    assert "one standard uncertainty away (mass), it floats" in budget.outcome
    assert 0.2 < budget.floating < 0.5


def test_bowl_too_heavy_to_float_has_no_time_to_spread():
    budget = error_budget(cup(bowl_mass=600.0, mass="1 g"))
    assert budget.time is None
    assert budget.under == 1.0
    assert "go under at once" in uncertainty_page(budget)


def test_plugged_bowl_has_the_time_it_would_take_once_started():
    case = cup(drill=1.0, hole="0.01 mm")
    budget = error_budget(case, "quasi-static")
    pushed = cup(drill=1.0, more='[start]\nkind = "push"\npush = "0.1 N s"')
    assert budget.plugged > 0.99
    assert budget.time == pytest.approx(MODELS["quasi-static"](pushed).sinking_time, rel=1e-6)
    assert "Time after a start; as described it is plugged" in uncertainty_page(budget)


def test_base_gone_has_no_hole_to_be_uncertain_of():
    budget = error_budget(cup(drill=96.0, radius="0.2 mm", mass="1 g"), "falling")
    assert budget.time is not None
    assert effects(budget)["hole"] == 0.0
    assert effects(budget)["radius"] > 0.0


def test_fit_tells_how_far_it_misses():
    """Quasi-static times are smooth: 0.1 % of the time for uncertainties of a few per cent."""
    budget = error_budget(cup(hole="0.1 mm", radius="0.3 mm", mass="1 g"), "quasi-static")
    assert 0.0 < budget.fit_miss < 1e-3, f"{budget.fit_miss:.1e}"
    assert "not smooth" not in uncertainty_page(budget)
    poor = replace(budget, fit_miss=0.02)
    assert "not smooth here (2 % off)" in uncertainty_page(poor)
    nowhere = replace(budget, fit_miss=math.inf)
    assert "not smooth here (where it should sink it does not)" in uncertainty_page(nowhere)


def test_repeats_are_told_for_the_difference_asked_for():
    case = cup(timing="0.1 s")
    budget = error_budget(case, "quasi-static", difference=0.08)
    assert [(r.difference, r.trials) for r in budget.repeats] == [(0.08, 26)]
    shares = [r.difference / budget.time for r in error_budget(case, "quasi-static").repeats]
    assert shares == pytest.approx([0.01, 0.02, 0.05])


def test_command_adds_the_budget_to_page_and_figures(answer, figures, written):
    path = written(cup(hole="0.05 mm", timing="0.1 s").text)
    wishes = ("--uncertainty", "--model", "quasi-static", "--difference", "80 ms")
    shown = answer("check", path, *wishes)
    for words in ("SINKS", "Contributions to the uncertainty:", "6 \u00b1 0.05 mm"):
        assert words in shown
    told = figures("check", path, *wishes)
    budget = told["uncertainty"]
    assert told["verdict"] == "sinks"
    assert budget["sinking_time_s"] == told["reduced"]["quasi-static"]["sinking_time_s"]
    rows = {row["name"]: row for row in budget["contributions"]}
    assert set(rows) == set(NOTHING)
    assert rows["hole"]["stated"]
    assert rows["hole"]["sensitivity"] < 0.0
    assert rows["mass"]["sensitivity"] is None
    assert budget["monte_carlo"]["low_s"] < budget["sinking_time_s"]
    assert budget["repeats"] == [{"difference_s": pytest.approx(0.08), "trials": 26}]


@pytest.mark.parametrize("change", [-1e-3, 1e-3])
def test_a_tub_that_nobody_named_is_as_wide_as_usual_for_a_rim_a_little_wider(change):
    """Or one side of the difference would have no correction; a tub that is named stays."""
    case = cup()
    other = varied(case, {"radius": change})
    assert other.flow.tub_radius == usual_tub(other.bowl.rim_radius)
    assert without_map(other) == without_map(case) == ""
    named = replace(case, flow=replace(case.flow, tub_radius=0.4))
    assert varied(named, {"radius": change}).flow.tub_radius == 0.4
