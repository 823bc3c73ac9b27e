"""The hole or the ring for a wanted time, the drill for it, and every way to have none."""

import json
import math
from pathlib import Path

import pytest

from console import call
from cups import cup_text
from sinkbowl.case.case import Case, load_case, parse_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.shown import duration
from sinkbowl.corrected import MODELS
from sinkbowl.design.sizing.design_variable import hole_setting
from sinkbowl.design.sizing.drills import oversize
from sinkbowl.design.sizing.sizing import _Search, size
from sinkbowl.statics.capillarity import hole_gate

CUP = cup_text(more="discharge_coefficient = 0.61")


def cup(more: str = "") -> Case:
    return parse_case(CUP + more, Path(), "cup")


def shipped(name: str) -> Case:
    return load_case(shipped_case(name))


@pytest.mark.parametrize("model", ["corrected", "heave", "quasi-static"])
@pytest.mark.parametrize(
    ("case", "time"),
    [(cup(), 300.0), (cup(), 0.5), (shipped("beech-dish-brass-ring"), 30.0)],
    ids=["cup slow", "cup quick", "dish"],
)
def test_hole_that_was_found_gives_the_wanted_time(case, time, model):
    """Solved again with the model itself; 1e-5 is the root's accuracy in the hole, squared."""
    sized = size(case, time, model=model)
    assert sized.verdict == "found"
    assert sized.value is not None
    again = MODELS[model](case.with_hole(sized.value)).sinking_time
    assert again == pytest.approx(time, rel=1e-5), f"{again} s"


def test_drills_on_both_sides_come_with_their_own_times():
    case, wanted = cup(), 100.0
    sized = size(case, wanted, model="quasi-static")
    narrow, wide = sized.drills
    assert narrow.diameter < sized.value < wide.diameter
    for drill in sized.drills:
        assert drill.starts
        assert drill.widest == pytest.approx(drill.diameter + oversize(drill.diameter), rel=1e-12)
        for hole, time in ((drill.diameter, drill.time), (drill.widest, drill.time_at_widest)):
            solved = MODELS["quasi-static"](case.with_hole(hole)).sinking_time
            assert time == pytest.approx(solved, rel=1e-9)
    assert wide.time < wanted < narrow.time


def test_tolerance_of_the_drill_costs_twice_its_share_of_the_hole():
    """T ~ d^-2 (Torricelli, constant coefficient): (1 + IT12 / d)^-2 - 1, to the hole's filling."""
    drill = size(cup(), 100.0, model="quasi-static").drills[0]
    costs = drill.as_dict(100.0)["tolerance_costs"]
    exact = (1.0 + oversize(drill.diameter) / drill.diameter) ** -2 - 1.0
    assert costs == pytest.approx(exact, rel=1e-2), f"{costs:.4f} against {exact:.4f}"


def test_hole_too_narrow_for_the_meniscus_is_told_as_plugged():
    """The least hole that starts is the one whose meniscus breaks at the head there is."""
    case = cup()
    sized = size(case, 1440.0)
    assert sized.verdict == "plugged"
    assert sized.gate.push_impulse > 0.0
    assert not hole_gate(case.with_hole(sized.first)).plugged
    assert hole_gate(case.with_hole(0.995 * sized.first)).plugged
    assert sized.time_at_first < 1440.0
    (drill,) = sized.drills
    assert drill.starts
    assert sized.first <= drill.diameter < sized.first + 1e-4
    text = repr(sized)
    assert "PLUGGED: a hole of" in text
    assert "1440 s (24 min 0 s)" in text
    assert "A push of" in text
    assert "The smallest that starts by itself is a hole of" in text


@pytest.mark.slow
def test_push_of_the_case_beats_the_meniscus():
    sized = size(cup('[start]\nkind = "push"\npush = "0.1 N s"'), 1440.0)
    assert sized.verdict == "found"
    assert sized.gate.plugged


def test_bowl_that_no_hole_starts_is_told_so():
    """A light wide dish: less head than the meniscus holds even in a wide hole (large angle)."""
    text = CUP.replace('"200 g"', '"28 g"').replace('"2 mm"', '"0.2 mm"').replace("20 mm", "1 mm")
    sized = size(parse_case(text + '[water]\ncontact_angle = "170 deg"', Path(), "foil"), 1000.0)
    assert sized.verdict == "plugged"
    assert sized.first is None
    assert sized.drills == ()
    assert "None starts by itself." in repr(sized)


def test_time_too_short_for_any_hole_is_told_as_dynamic():
    """With its whole base gone the bowl still has to fall: inertia, not the hole, sets the time."""
    case = cup()
    sized = size(case, 0.05)
    assert sized.verdict == "too quick"
    assert sized.value == pytest.approx(0.096)
    assert sized.time == pytest.approx(MODELS["corrected"](case.with_hole(0.096)).sinking_time)
    assert sized.time > 0.05
    assert sized.drills == ()
    text = repr(sized)
    assert "NOT POSSIBLE: it cannot sink" in text
    assert "it falls freely" in text


def test_time_too_long_for_any_hole_is_told_with_the_longest_there_is():
    sized = size(cup(), 1e6, model="quasi-static")
    assert sized.verdict == "too slow"
    assert sized.value == pytest.approx(1e-4)
    assert sized.first is not None
    assert "NOT POSSIBLE: it cannot take" in repr(sized)


def test_bowl_lighter_than_water_floats_whatever_the_hole():
    sized = size(shipped("beech-dish-bare"), 30.0)
    assert sized.verdict == "floats"
    assert sized.value is None
    assert sized.time is None
    assert "FLOATS: it does not sink, whatever the hole" in repr(sized)


@pytest.mark.parametrize("time", [12.0, 10.0])
def test_ring_that_was_found_gives_the_wanted_time(time):
    case = shipped("beech-dish-brass-ring")
    sized = size(case, time, by="ballast")
    assert sized.verdict == "found"
    text = case.text.replace('mass = "60 g"', f'mass = "{sized.value * 1e3!r} g"')
    again = MODELS["corrected"](parse_case(text, Path(), "again")).sinking_time
    assert again == pytest.approx(time, rel=1e-4), f"{again} s"
    assert sized.drills == ()
    assert "section of the ring" in repr(sized)


def test_ring_for_too_short_a_time_is_the_stoutest_that_fits_under_the_base():
    """Section as thick as the gap of its centre line, 3.5 mm: m = rho 2 pi^2 R a^2 (Pappus)."""
    sized = size(shipped("beech-dish-brass-ring"), 3.0, by="ballast")
    stoutest = 8500.0 * 2.0 * math.pi**2 * 0.034 * 0.0035**2
    assert sized.verdict == "too quick"
    assert sized.value == pytest.approx(stoutest, rel=1e-9)


def test_ring_for_too_long_a_time_lets_the_dish_float():
    """The lightest that sinks it makes it as dense as water: (rho V - m) / (1 - rho / rho_ring)."""
    case = shipped("beech-dish-brass-ring")
    sized = size(case, 60.0, by="ballast")
    rho = case.water.density
    lightest = (rho * case.bowl.solid_volume - case.bowl.mass) / (1.0 - rho / 8500.0)
    assert sized.verdict == "floats"
    assert sized.value == pytest.approx(lightest, rel=1e-5)
    assert sized.time < 60.0
    assert "too light and floats" in repr(sized)


def test_leap_of_the_time_is_no_root(monkeypatch):
    """A made-up law that leaps from 10 s to 1 s at a hole of 7 mm, asked for 3 s."""
    search = _Search(hole_setting(cup()), 3.0, "heave")
    monkeypatch.setattr(search, "time", lambda hole: 10.0 if hole < 7e-3 else 1.0)
    value, verdict = search.find()
    assert verdict == "jumps"
    assert value == pytest.approx(7e-3, rel=1e-5)


def test_quick_bowl_is_handed_to_the_flow_solver():
    text = repr(size(cup(), 0.5))
    assert "inertia matters" in text
    assert "inertia matters" not in repr(size(cup(), 100.0, model="quasi-static"))


def test_command_prints_a_page_and_the_same_figures_for_scripts(tmp_path, capsys):
    path = tmp_path / "cup.toml"
    path.write_text(CUP)
    command = ["size", str(path), "--time", "1.5 min", "--model", "quasi-static"]
    for extra in ([], ["--json"]):
        assert call(*command, *extra) == 0
        shown = capsys.readouterr().out
        if not extra:
            assert "FOUND: a hole of" in shown
            assert "from memory" in shown
            continue
        figures = json.loads(shown)
        assert figures["wanted_time_s"] == 90.0
        assert figures["sinking_time_s"] == pytest.approx(90.0, rel=1e-4)
        sized = size(cup(), 90.0, model="quasi-static")
        assert figures["hole_diameter_m"] == pytest.approx(sized.value, rel=1e-9)
        assert [drill["diameter_m"] for drill in figures["drills"]] == [0.003, 0.0031]


@pytest.mark.parametrize(
    ("time", "words"),
    [(2.13, "2.13 s"), (0.05, "50.0 ms"), (1440.0, "1440 s (24 min 0 s)"), (7200, "7200 s (2 h 0")],
)
def test_long_times_are_told_in_minutes_too(time, words):
    assert duration(time).startswith(words)
