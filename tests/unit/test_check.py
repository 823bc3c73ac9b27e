"""Every verdict and every outcome at least once, and the keys that scripts rely on."""

import json
from typing import Any

import numpy as np
import pytest

import cups
from cups import top_heavy_cup
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.design.check_page import check_page
from sinkbowl.design.checking import CheckResult, check
from sinkbowl.reduced import MODELS, heave, sinkings
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.heel import resting_heel
from sinkbowl.statics.hydrostatics import heave_period
from sinkbowl.statics.stability import stability_curve

CONTRACT = {"mass_kg", "mean_density_kg_m3", "dry_draft_m", "head_m", "breakthrough_head_m"}
CONTRACT |= {"verdict", "push_impulse_N_s", "min_metacentric_height_m", "reduced"}


def cup(mass: float = 200.0, hole: float = 20.0, **sizes: Any) -> Case:
    """A straight cup 100 mm wide, lengths in mm and mass in g."""
    return cups.cup(hole, title="Tea cup", mass=mass, **sizes)


def outcomes(result: CheckResult) -> dict[str, str]:
    return {name: sinking.words for name, sinking in result.reduced.items()}


@pytest.fixture(scope="module")
def steel() -> CheckResult:
    return check(cup())


def test_steel_cup_sinks(steel):
    """Hydrostatics by hand: draft m / (rho pi R^2), head a base thickness less."""
    assert steel.verdict == "sinks"
    draft = 0.2 / (998.2072 * np.pi * 0.05**2)
    assert steel.dry_draft == pytest.approx(draft, rel=1e-6)
    assert steel.head == pytest.approx(draft - 0.002, rel=1e-6)
    assert steel.final_draft is None
    assert steel.missing_ballast == 0.0
    for name, outcome in outcomes(steel).items():
        assert outcome.startswith("sinks: the rim goes under after"), (name, outcome)


def test_answer_has_the_keys_that_scripts_rely_on(steel):
    answer = steel.as_dict()
    assert answer.keys() >= CONTRACT
    assert set(answer["reduced"]) == {"quasi-static", "heave", "falling"}
    for name, model in answer["reduced"].items():
        assert model.keys() >= {"sinking_time_s", "outcome"}
        assert model["sinking_time_s"] == steel.reduced[name].sinking_time
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer


def test_events_come_in_their_order(steel):
    for sinking in steel.reduced.values():
        times = [sinking.events[name] for name in ("start", "rim_under", "full")]
        assert times == sorted(times), sinking
        assert sinking.events["rim_under"] == sinking.sinking_time
        assert np.all(np.diff(sinking.t) > 0.0)
    heaving = steel.reduced["heave"].events
    assert heaving["rim_under"] < heaving["over_rim"] < heaving["full"]


def test_bowl_is_full_and_its_rim_under_when_it_says_so(steel):
    """Full: water to the brim; over the rim: the rim a meniscus's depth under the surface. The rim
    passes under when the lowest point lies as deep as the bowl is tall, 60 mm; 0.1 % for the line
    between two stored times."""
    capacity = cup().bowl.inner_capacity
    for name in ("quasi-static", "heave"):
        sinking = steel.reduced[name]
        assert sinking.inner_volume[-1] == pytest.approx(capacity, rel=1e-6)
        over = float(np.interp(sinking.events["over_rim"], sinking.t, sinking.draft))
        assert over == pytest.approx(0.06 + steel.rim_lag, rel=1e-6)
    draft = np.interp(sinking.sinking_time, sinking.t, sinking.draft)
    assert draft == pytest.approx(0.06, rel=1e-3)


def test_dimensionless_numbers_are_those_of_the_starting_jet(steel):
    """By hand from the head, with IAPWS values at 20 degC (viscosity 1.0016e-3, 0.072736 N/m)."""
    speed = np.sqrt(2 * GRAVITY * steel.head)
    numbers = steel.numbers
    assert numbers["reynolds"] == pytest.approx(speed * 0.02 * 998.2072 / 1.001596e-3, rel=1e-4)
    assert numbers["weber"] == pytest.approx(998.2072 * speed**2 * 0.02 / 0.072736, rel=1e-4)
    assert numbers["bond"] == pytest.approx(998.2072 * GRAVITY * 0.02**2 / 0.072736, rel=1e-4)
    assert numbers["froude"] == pytest.approx(speed / np.sqrt(GRAVITY * 0.02), rel=1e-6)


def test_heave_period_is_that_of_mass_and_added_mass_on_the_waterplane():
    """2 pi sqrt((m + 4/3 rho R^3) / (rho g A)), surface disc (Lamb)."""
    moving = 0.2 + 4.0 / 3.0 * 998.2072 * 0.05**3
    exact = 2.0 * np.pi * np.sqrt(moving / (998.2072 * GRAVITY * np.pi * 0.05**2))
    assert heave_period(cup()) == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize(
    ("hole", "words"), [(4.0, "slowly"), (20.0, "inertia matters"), (70.0, "falls freely")]
)
def test_pace_is_told_in_words(hole, words):
    assert words in check(cup(hole=hole)).pace


def test_wooden_cup_floats_part_sunk():
    """Mean density below the water's: it comes to rest with its solid displacing its weight."""
    case = cup(mass=130.0, wall=8.0, base=4.0, hole=12.0)
    result = check(case)
    assert result.verdict == "floats"
    assert result.missing_ballast > 0.0
    rest = float(case.bowl.solid_volume_below(result.final_draft)) * case.water.density
    assert rest == pytest.approx(0.13, rel=1e-9)
    # At rest means within 1 % of the starting head; by Archimedes the draft then still lacks
    # A_i / (A_o - A_i) of what the head has left.
    at_rest = 0.01 * result.head * 0.042**2 / (0.05**2 - 0.042**2)
    for name in ("quasi-static", "heave"):
        sinking = result.reduced[name]
        assert sinking.outcome == f"floats with draft {result.final_draft * 1e3:.1f} mm"
        assert sinking.sinking_time is None
        assert sinking.events["half_sunk"] > 0.0
        assert abs(sinking.draft[-1] - result.final_draft) < at_rest, name
    assert result.reduced["falling"].sinking_time is None
    assert "floats with draft" in outcomes(result)["falling"]


@pytest.mark.parametrize(("share", "word"), [(0.98, "floats"), (1.02, "sinks")])
def test_missing_ballast_is_just_what_it_takes_to_sink(share, word):
    """Archimedes: a brass ring of the mass that `check` names brings the mean density to 1."""
    light = {"mass": 110.0, "wall": 8.0, "base": 4.0, "hole": 12.0, "height": 50.0}
    first = check(cup(more=cups.ring_text(10.0, height=-6), **light))
    assert first.verdict == "floats"
    loaded = cups.ring_text(10.0 + share * first.missing_ballast * 1e3, height=-6)
    assert check(cup(more=loaded, **light)).verdict == word


def test_thick_base_floats_dry():
    """The water does not even reach the inner edge of the hole."""
    result = check(cup(mass=60.0, wall=8.0, base=15.0, hole=10.0))
    assert result.verdict == "floats"
    assert result.head < 0.0
    assert outcomes(result)["heave"].endswith("base dry")


def test_narrow_hole_is_plugged_and_told_what_it_needs():
    result = check(cup(mass=100.0, hole=1.0, wall=0.5, base=0.5, height=40.0))
    assert result.verdict == "plugged"
    answer = result.as_dict()
    assert answer["push_impulse_N_s"] > 0.0
    missing = (result.gate.breakthrough_head - result.gate.head) * 1e3
    for name in ("quasi-static", "heave"):
        outcome = outcomes(result)[name]
        assert outcome.startswith(f"plugged: needs {missing:.1f} mm more head or a push of")
        assert result.reduced[name].sinking_time is None
    assert result.filling_time is None
    assert result.pace == "it does not fill"


@pytest.mark.parametrize(("share", "starts"), [(0.9, False), (1.1, True)])
def test_push_starts_a_plugged_cup_if_it_is_strong_enough(share, starts):
    small = {"mass": 100.0, "hole": 1.5, "wall": 0.5, "base": 0.5, "height": 40.0}
    push = share * hole_gate(cup(**small)).push_impulse
    result = check(cup(more=f'[start]\nkind = "push"\npush = "{push} N s"', **small))
    assert (result.verdict == "sinks") is starts
    assert (result.reduced["heave"].sinking_time is not None) is starts
    words = "the push or drop starts the flow" if starts else "PLUGGED"
    assert words in check_page(result.as_dict())


def test_page_says_how_far_a_cup_heels_that_stays_afloat(steel):
    """The angle is one of the curve of heels, which test_stability.py checks, at its level."""
    curve, figures = steel.stability, steel.as_dict()
    heel, level = figures["greatest_heel_deg"], figures["inner_level_at_greatest_heel_m"]
    assert heel == pytest.approx(np.degrees(curve.heel.max()), rel=1e-12)
    assert np.radians(heel) == pytest.approx(resting_heel(curve.case, level), abs=1e-3)
    assert f"by {heel:.0f} deg" in check_page(figures)
    assert "by less than a degree" in check_page({**figures, "greatest_heel_deg": 0.2})
    assert check(cup(height=150.0, hole=0.3)).as_dict()["greatest_heel_deg"] is None


@pytest.mark.parametrize(("height", "starts"), [(0.1, False), (30.0, True)])
def test_drop_starts_a_plugged_cup_if_it_is_high_enough(height, starts):
    """Let go at the surface it dips to less than twice its draft, 25.5 mm; the hole holds 26."""
    start = f'[start]\nkind = "drop"\ndrop_height = "{height} mm"'
    case = cup(mass=100.0, hole=1.0, wall=0.5, base=0.5, height=40.0, more=start)
    assert (heave.solve(case).sinking_time is not None) is starts


def test_top_heavy_cup_tips():
    """A heavy ring in the mouth of a tall narrow-waterplane cup: no positive metacentric height."""
    result = check(cup(hole=4.0, height=120.0, more=cups.ring_text(150, 43, 115)))
    assert result.verdict == "tips"
    assert result.stability.minimum < 0.0


def test_outcome_tells_when_a_tall_cup_tips():
    """Statics alone: the level is then the first that no heel holds, and comes later than in an
    upright cup, whose head is larger by up to 1 / cos(heel) (test_heeled_filling.py). The falling
    body has no water inside to run to one side."""
    case = top_heavy_cup(5.0)
    curve = stability_curve(case)
    found = sinkings(case)
    for model in ("quasi-static", "heave"):
        sinking = found[model]
        moment = sinking.events["tips"]
        assert sinking.words.startswith(
            f"tips after {moment:.3g} s, water comes over the rim after"
        )
        assert "; kept upright: sinks" in sinking.words
        assert 0.0 < moment < sinking.events["rim_under"]
        upright = np.interp(curve.tipping_level, sinking.inner_level, sinking.t)
        assert upright < moment < upright / np.sqrt(np.cos(np.nanmax(curve.heel)))
        assert "unstable at every heel" in str(sinking)
    assert "tips" not in found["falling"].events


@pytest.mark.parametrize(("hole", "then"), [(20.0, "sinks"), (0.3, "plugged")])
def test_outcome_tells_that_a_still_taller_cup_tips_at_once(hole, then):
    result = check(cup(height=150.0, hole=hole))
    assert result.verdict == "tips"
    told = f"tips at once and water comes over the rim; kept upright: {then}"
    for model in ("quasi-static", "heave"):
        assert result.reduced[model].words.startswith(told)
        assert result.reduced[model].events["tips"] == 0.0


def test_cup_too_heavy_to_float_goes_under_at_once():
    result = check(cup(mass=600.0))
    assert result.verdict == "sinks"
    assert result.as_dict()["dry_draft_m"] is None
    for outcome in outcomes(result).values():
        assert outcome == "goes under at once: too heavy to float even when dry"
    for sinking in result.reduced.values():
        assert sinking.sinking_time == 0.0


def test_light_cup_dropped_from_high_dips_its_rim_and_comes_up_again():
    """Its momentum carries it under; lighter than water, it returns."""
    start = '[start]\nkind = "drop"\ndrop_height = "400 mm"'
    case = cup(mass=115.0, wall=8.0, base=10.0, hole=50.0, height=40.0, more=start)
    sinking = heave.solve(case)
    assert sinking.words.startswith("dips its rim after"), sinking
    assert "then floats with draft" in sinking.words
    assert sinking.outcome.startswith("dips its rim, then floats with draft")
    assert sinking.draft.max() > 0.04
    assert sinking.events["rim_under"] > 0.0
    assert sinking.sinking_time is None


@pytest.mark.parametrize("height", [10.0, 100.0])
def test_dropped_ring_falls_faster_than_one_set_down(height):
    """Base gone: heave and falling body agree, by different ways, within 3 %."""
    start = f'[start]\nkind = "drop"\ndrop_height = "{height} mm"'
    times = {}
    for name in ("heave", "falling"):
        dropped = MODELS[name](cup(hole=96.0, more=start)).sinking_time
        placed = MODELS[name](cup(hole=96.0)).sinking_time
        assert dropped < placed
        times[name] = dropped
    assert times["heave"] == pytest.approx(times["falling"], rel=0.03), times


def test_result_prints_its_outcome_and_events(steel):
    text = str(steel.reduced["heave"])
    assert text.startswith("heave: sinks: the rim goes under after")
    for words in ("released", "rim below the outer surface", "first water over the rim", "full"):
        assert words in text


def test_a_pushed_bowl_whose_hole_floats_above_the_water_rests_by_the_quasi_static_model():
    """Without inertia no push takes its base down: from first principles."""
    push = '[start]\nkind = "push"\npush = "0.5 N s"'
    result = check(cup(mass=60.0, hole=90.0, base=10.0, more=push))
    assert result.head < 0.0
    assert "base dry" in outcomes(result)["quasi-static"]
    assert result.reduced["quasi-static"].sinking_time is None
    assert outcomes(result)["heave"].startswith("sinks")
