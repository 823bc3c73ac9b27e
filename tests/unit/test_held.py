"""A bowl that is held by its rim at a draft and let go at rest."""

from dataclasses import fields, replace

import numpy as np
import pytest

from cups import cup
from sinkbowl.case.case import Case, Start
from sinkbowl.design.checking import check
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.step import advance
from sinkbowl.reduced import MODELS
from sinkbowl.statics.hydrostatics import dry_draft
from sinkbowl_post.check.sheet import TOO_WIDE, trial_sheet

THICK = {"radius": 50, "height": 60, "wall": 8, "base": 8}
COARSE = '[flow]\ncell = "4 mm"\nbase_cell = "4 mm"\nhole = "resolved"'


def held(case: Case, draft: float, inside: str = "level") -> Case:
    start = Start("held", draft=draft, inside="level" if inside == "level" else "dry")
    return replace(case, start=start)


def weightless(draft: float, hole: float = 20) -> Case:
    """A cup as heavy as the water that its wetted shell displaces, held there (Archimedes)."""
    shell = cup(hole, **THICK)
    solid = float(shell.bowl.outer_volume(draft) - shell.bowl.inner_volume(draft))
    mass = 1e3 * shell.water.density * solid
    return held(cup(hole, **THICK, mass=f"{mass:.12g} g", more=COARSE), draft)


def test_held_dry_at_its_dry_draft_is_set_down_to_the_bit():
    case = cup(20, more=COARSE)
    draft = dry_draft(case)
    for name, solve in MODELS.items():
        one, other = solve(case), solve(held(case, draft, "dry"))
        assert np.array_equal(one.t, other.t), name
        assert np.array_equal(one.draft, other.draft), name
    flows = [initialise(case), initialise(held(case, draft, "dry"))]
    for sim in flows:
        for _ in range(3):
            advance(sim.state, sim.body(), sim.time_step(), sim.ops)
    one_state, other_state = (sim.state for sim in flows)
    for field in fields(one_state):
        a, b = getattr(one_state, field.name), getattr(other_state, field.name)
        assert np.array_equal(a, b), field.name
    assert one_state.speed != 0.0


@pytest.mark.parametrize("model", ["heave", "falling"])
def test_a_cup_as_heavy_as_what_its_wet_shell_displaces_stays_where_it_is_let_go(model):
    """Archimedes: with its hole open, shell against water is all there is; nothing moves."""
    draft = 0.03
    sinking = MODELS[model](weightless(draft))
    early = sinking.t < 0.3
    assert sinking.draft[0] == draft
    assert np.abs(sinking.draft[early] - draft).max() < 1e-6 * draft


def test_in_the_flow_too_it_stays():
    """The speed after some steps, over that of a free fall: round-off of the cut cells."""
    sim = initialise(weightless(0.03))
    inside = float(sim.case.bowl.inner_volume(0.03))
    assert sim.inner_volume() == pytest.approx(inside, rel=1e-9)
    time = 0.0
    for _ in range(8):
        step = sim.time_step()
        advance(sim.state, sim.body(), step, sim.ops)
        time += step
    print(f"{abs(sim.speed):.3g} m/s after {time:.3g} s")
    assert abs(sim.speed) < 1e-6 * 9.8 * time


@pytest.mark.parametrize("draft", [0.01, 0.022])
def test_in_balance_at_every_moment_it_has_only_the_rest_of_the_way_to_fill(draft):
    """Without inertia and memory: what is inside already need not come in (first principles)."""
    case = cup(5)
    whole, rest = (MODELS["quasi-static"](one) for one in (case, held(case, draft)))
    water = float(case.bowl.inner_volume(draft))
    assert rest.inner_volume[0] == pytest.approx(water, rel=1e-12)
    gone = np.interp(water, whole.inner_volume, whole.t)
    assert rest.sinking_time is not None
    assert rest.sinking_time == pytest.approx(whole.sinking_time - gone, rel=1e-5)


def test_a_cup_without_a_base_falls_no_faster_than_its_weight_in_water_makes_it():
    """Half m V^2 is at most the work of weight less buoyancy of the wet shell over the way."""
    case = held(cup(96, mass=300), 0.02)
    sinking = MODELS["falling"](case)
    assert sinking.sinking_time is not None
    assert sinking.draft[0] == 0.02
    bowl, rho = case.bowl, case.water.density
    way = np.linspace(0.02, bowl.rim_height, 400)
    solid = np.array([float(bowl.outer_volume(z) - bowl.inner_volume(z)) for z in way])
    force = 9.80665 * (case.total_mass - rho * solid)
    work = np.concatenate(([0.0], np.cumsum(0.5 * (force[1:] + force[:-1]) * np.diff(way))))
    kinetic = 0.5 * case.total_mass * sinking.speed**2
    most = np.interp(sinking.draft, way, work)
    fell = sinking.draft > 0.03
    assert np.all(kinetic[fell] < most[fell])
    assert np.all(kinetic[fell] > 0.3 * most[fell]), "it does fall"


def test_a_meniscus_that_is_counted_keeps_the_water_out_until_its_head_stands_on_it():
    more = f"{COARSE}\nsurface_tension = true"
    for draft, wet in ((0.004, False), (0.03, True)):
        sim = initialise(held(cup(20, more=more), draft))
        assert (sim.inner_volume() > 0.0) == wet
        assert (sim.gate is None) == wet


def test_the_sheet_of_a_hole_too_wide_for_a_finger_names_a_start_that_can_be_done():
    wide, narrow = trial_sheet(cup(60)), trial_sheet(cup(20))
    assert TOO_WIDE in wide.remarks
    assert TOO_WIDE not in narrow.remarks
    assert "finger" not in " ".join(name for name, _ in wide.expected)
    told = dict(trial_sheet(held(cup(60), 0.02)).settings)["start"]
    assert told == "hold it by the rim at a draft of 20 mm, hole open, and let go"
    assert check(held(cup(60), 0.02)).corrected.sinking.sinking_time is not None
