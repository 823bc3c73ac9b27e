"""Every command says of a bowl what `check` says of it."""

import math
from typing import Any

import numpy as np
import pytest

import cups
from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import closed_air_words
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.design.check_page import check_page
from sinkbowl.design.checking import check, density_warning, run_notes
from sinkbowl.design.sizing.sizing import size
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.step import locate_surface
from sinkbowl.running.run_state import FirstClosedAir
from sinkbowl_post.measured.mean_time import refuse_odd_time
from sinkbowl_post.measured.measured import Trial


def cup(mass: float = 200.0, hole: float = 20.0, **sizes: Any) -> Case:
    return cups.cup(hole, title="Tea cup", mass=mass, **sizes)


def page(case: Case) -> str:
    return check_page(check(case).as_dict())


def test_a_bowl_that_falls_over_at_once_is_told_from_one_that_tips_while_it_fills():
    at_once, later = check(cup(height=150.0)), check(cup(height=100.0))
    assert at_once.tips_when_set_down
    assert "falls over when it is set down" in page(cup(height=150.0))
    if later.verdict == "tips":
        assert not later.tips_when_set_down
        assert "while it fills" in page(cup(height=100.0))


def test_size_says_that_the_bowl_it_found_tips():
    case = cup(height=150.0)
    sized = size(case, 20.0)
    assert sized.tips
    assert "TIPS" in repr(sized)
    assert "TIPS" not in repr(size(cup(), 20.0))


def test_a_run_says_that_check_calls_the_hole_plugged():
    """A cup of 5 mm radius: its meniscus over a 4 mm hole holds millimetres of head."""
    sizes = {"height": 10.0, "radius": 5.0, "base": 0.5, "wall": 0.5}
    small = cup(0.5, 4.0, **sizes)
    assert check(small).verdict == "plugged"
    assert any("By `check` this hole is plugged" in note for note in run_notes(small))
    counted = cup(0.5, 4.0, more="[flow]\nsurface_tension = true", **sizes)
    assert run_notes(counted) == ()
    assert run_notes(cup()) == ()


def test_a_mass_that_no_material_has_is_asked_about():
    """Osmium: 22.59 g/cm3 (handbook, from memory); the cup's shell from first principles."""
    shell = math.pi * (0.05**2 * 0.06 - 0.048**2 * 0.058 - 0.01**2 * 0.002)
    heaviest = 22_590.0 * shell * 1e3
    assert density_warning(cup(0.99 * heaviest)) == ""
    asked = cup(1.01 * heaviest)
    assert "Check the mass" in density_warning(asked)
    assert density_warning(asked) in page(asked)
    assert density_warning(asked) in run_notes(asked)


def test_air_under_a_sheet_of_water_is_closed_off():
    """A lid of water across the cup, 20 to 24 mm up: the air below it, from first principles."""
    sim = initialise(cup(hole=40.0, more='[flow]\ncell = "2 mm"'))
    grid, solid, state = sim.ops.grid, sim.ops.solid, sim.state
    pockets, watch = sim.ops.pockets, FirstClosedAir()

    def look() -> bool:
        locate_surface(state, sim.ops)
        return watch.look(sim, pockets.follow(state, sim.mesh))

    assert not look()
    z = np.broadcast_to(grid.z_c, solid.volume.shape)
    lid = sim.inside & (z > 0.020) & (z < 0.024)
    state.water[lid] = solid.volume[lid]
    below = sim.inside & (z < 0.020)
    room = 2.0 * np.pi * float(np.sum((solid.volume - state.water)[below]))
    assert room > 1e-5
    assert [look() for _ in range(4)].count(True) == 1
    assert watch.volume == pytest.approx(room, rel=1e-9)
    state.water[lid & (np.arange(solid.volume.shape[0])[:, None] < 3)] = 0.0
    watch.volume = 0.0
    assert not look()


def test_closed_air_is_told_with_time_and_volume():
    assert closed_air_words((0.2114, 42e-6)) == "42 mL of air closed off at 211 ms"
    assert closed_air_words((0.2114, 42e-6), 0.5) == "42 mL of air closed off at 0.211 s"
    assert closed_air_words(None) == ""


def test_no_drawn_time_is_negative_and_timing_suits_a_short_event():
    """0.1 s is what a hand does; an open ring is under in a tenth of that, and is filmed."""
    quick = error_budget(cup(hole=90.0))
    assert quick.time < 0.2
    timing = next(row for row in quick.contributions if row.name == "timing")
    assert timing.uncertainty == pytest.approx(0.05 * quick.time)
    stated = error_budget(cup(hole=90.0, more='[uncertainty]\ntiming = "0.2 s"'))
    for budget in (quick, stated):
        assert budget.monte_carlo.low > 0.0


def test_times_in_the_wrong_unit_are_asked_about_and_stop(tmp_path):
    table = tmp_path / "trials.csv"
    case = cup()
    for factor, question in (
        (1000.0, "ms typed as s?"),
        (1e-3, "s typed as ms?"),
        (100.0, "two digits swapped"),
    ):
        with pytest.raises(CaseError) as refused:
            refuse_odd_time(case, Trial(7, time=2.1 * factor), table)
        assert question in str(refused.value)
        assert "row 7" in str(refused.value)
    refuse_odd_time(case, Trial(7, time=3.0), table)
