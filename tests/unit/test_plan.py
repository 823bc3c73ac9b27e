"""Plan of trials: holes, clock and number that tell the models apart, in random order."""

import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

import cups
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.budget.repeats import seen
from sinkbowl.design.planning import (
    FRAME_RATES,
    Distinction,
    HoleTimes,
    Pair,
    Plan,
    best_hole,
    candidate_holes,
    distinction,
    film_error,
    order,
    plan,
    power_of_one,
    trials_needed,
)
from sinkbowl.design.sizing.drills import PER_METRE, SERIES
from sinkbowl_post.pages.plan_page import plan_page

TWO = ("quasi-static", "heave")


def hole(diameter: float, apart: float, **other: float) -> HoleTimes:
    """A hole at which two models are so far apart [s], with little else to blur it."""
    known = {"scatter": 0.001, "by_hand": 0.1, "systematic": 0.0, "flow_half": 0.01, **other}
    return HoleTimes(diameter, diameter / 0.1, {"quasi-static": 1.0 + apart, "heave": 1.0}, **known)


@pytest.mark.parametrize(
    ("shift", "freedom"), [(0.0, 1), (8.485, 1), (2.0, 2), (5.0, 9), (1.0, 999)]
)
def test_the_chance_to_see_is_that_over_all_scatters(shift, freedom):
    """By scipy's quadrature over chi; its noncentral t is nan at the second of these."""
    critical = stats.t.ppf(0.975, freedom)

    def part(chi: float) -> float:
        at = critical * chi / math.sqrt(freedom)
        both = stats.norm.cdf(shift - at) + stats.norm.cdf(-shift - at)
        return float(stats.chi.pdf(chi, freedom) * both)

    ends = stats.chi.ppf([0.0, 0.01, 0.5, 0.99, 1.0 - 1e-12], freedom)
    whole = sum(quad(part, a, b, epsabs=1e-12)[0] for a, b in pairwise(ends))
    assert seen(shift, freedom) == pytest.approx(whole, abs=1e-6)


def test_power_of_one_sample_is_the_share_of_drawn_trials_that_see_it():
    """Drawn trials by scipy's t test: share that see the difference, 20,000 draws, 1 % allowed."""
    drawn = np.random.default_rng(3).normal(1.2, 1.0, (20_000, 6))
    share = float(np.mean(stats.ttest_1samp(drawn, 0.0, axis=1).pvalue < 0.05))
    assert power_of_one(1.2, 1.0, 6) == pytest.approx(share, abs=0.01)


def test_a_film_is_off_by_two_frames_ends():
    """Against drawn times that are read to the frame before, both ends."""
    rng, rate = np.random.default_rng(4), 30.0
    start = rng.uniform(0.0, 1.0, 100_000)
    end = start + rng.uniform(1.0, 2.0, start.size)
    read = (np.floor(end * rate) - np.floor(start * rate)) / rate
    assert film_error(rate) == pytest.approx(float(np.std(read - (end - start))), rel=0.02)


def test_a_stopwatch_is_taken_where_it_will_do_and_a_film_where_not():
    assert distinction(0.5, 0.001, 0.1).rate is None
    assert distinction(0.03, 0.001, 0.1).rate in FRAME_RATES
    assert distinction(0.0005, 0.01, 0.1) is None
    assert distinction(0.0, 0.0, 0.0) is None
    assert trials_needed(0.1, 0.03) < trials_needed(0.1, 0.09)


def test_the_hole_that_needs_no_film_is_taken():
    best = best_hole(TWO, [hole(0.02, 0.03), hole(0.05, 0.6), hole(0.07, 0.05)])
    assert best.hole == 0.05
    assert best.flow_can_judge


def test_what_is_over_within_a_second_is_filmed_however_far_apart():
    times = {"quasi-static": 0.9, "heave": 0.1}
    pair = best_hole(TWO, [replace(hole(0.05, 0.0), times=times)])
    assert pair.distinction.rate == FRAME_RATES[0]


def test_what_lasts_is_taken_off_the_difference():
    """1.96 standard uncertainties, the 95 % of a normal distribution (handbook table)."""
    pair = best_hole(TWO, [hole(0.05, 0.6, systematic=0.1)])
    assert pair.shown == pytest.approx(0.6 - 1.95996 * 0.1, rel=1e-4)
    lost = best_hole(TWO, [hole(0.05, 0.6, systematic=0.4)])
    assert lost.distinction is None


def test_the_order_is_drawn_by_its_seed_and_holds_every_trial():
    by_hand = Distinction("stopwatch", None, 0.1, 5)
    pairs = [
        Pair(TWO, 0.02, 1.0, 1.0, 0.0, 0.1, by_hand),
        Pair(("heave", "falling"), 0.05, 1.0, 1.0, 0.0, 0.1, replace(by_hand, trials=7)),
        Pair(("quasi-static", "falling"), 0.05, 1.0, 1.0, 0.0, 0.1, by_hand),
    ]
    first = order(pairs, 1)
    assert Counter(first) == {0.02: 5, 0.05: 7}
    assert order(pairs, 1) == first
    assert order(pairs, 2) != first


def test_holes_are_preferred_drills_within_the_base():
    holes = candidate_holes(cups.cup(6))
    assert all(round(h * PER_METRE) in SERIES for h in holes)
    assert holes == sorted(holes)
    assert 0.075 < max(holes) < 0.096


def test_a_seed_without_a_plan_and_a_plan_of_a_bowl_without_a_base_are_refused(refused, written):
    case = written(cups.cup_text(6))
    assert "--plan" in refused("check", case, "--seed", "3")
    with pytest.raises(CaseError, match="no base"):
        plan(load_case(shipped_case("open-ring")))


def test_the_page_says_film_where_a_stopwatch_cannot():
    filmed = Pair(TWO, 0.05, 0.03, 0.03, 0.0, 0.5, Distinction("film", 120, 0.004, 4))
    cup = Plan(
        "Cup", (hole(0.05, 0.03),), (filmed, replace(filmed, distinction=None)), (0.05,) * 4, 1
    )
    text = plan_page(cup)
    text = " ".join(text.split())
    assert "film at 120 frames per second" in text
    assert "only trials can decide" in text
    assert "not by 10 trials" in text


@pytest.mark.slow
def test_the_shipped_cup_has_a_plan(figures):
    """Quasi-static and falling body differ manyfold at a narrow hole: a stopwatch tells."""
    found = figures("check", shipped_case("steel-cup"), "--plan")["plan"]
    pair = next(p for p in found["pairs"] if set(p["models"]) == {"quasi-static", "falling"})
    assert pair["distinction"]["clock"] == "stopwatch"
    assert len(found["trials"]) >= pair["distinction"]["trials"]
