"""Rings that keep a bowl upright through its whole filling."""

from functools import cache
from pathlib import Path

import pytest

import cups
from sinkbowl.case.case import Case, parse_case
from sinkbowl.design.checking import check
from sinkbowl.design.sizing.upright import MATERIALS, Loading, Upright, size_upright, with_ring
from sinkbowl_post.cli import main


def light_cup(ring: Loading | None = None, density: float = 0.0) -> Case:
    """A cup of 100 g that heels while it fills, and a ring as a case file gives it."""
    more = ""
    if ring is not None:
        more = (
            f'[ballast]\nmass = "{ring.mass} kg"\nradius = "{ring.radius} m"\n'
            f'height = "{ring.height} m"\ndensity = "{density} kg/m^3"'
        )
    return parse_case(cups.cup_text(12, mass=100.0, more=more), Path(), "cup")


@cache
def rings() -> Upright:
    return size_upright(light_cup(), 1e-3, 0.04)


@pytest.mark.slow
def test_least_ring_has_just_the_height_that_is_wished():
    """As `check` finds it in a case file with that ring; 10 um, to which its place is rounded."""
    answer = rings()
    for name, choice in answer.choices.items():
        ring = choice.upright
        assert ring.mass > 0.0
        found = check(light_cup(ring, MATERIALS[name])).stability
        print(name, 1e3 * ring.mass, "g", 1e3 * found.minimum, "mm")
        assert found.minimum == pytest.approx(1e-3, abs=1e-5)
        lighter = with_ring(light_cup(), 0.98 * ring.mass, MATERIALS[name])
        assert lighter is not None
        less = check(lighter).stability
        assert less.minimum < found.minimum


def test_least_ring_that_sinks_it_is_archimedes():
    """(m + b) = rho (V + b / rho_b), from first principles."""
    case = cups.cup(12, mass=30.0)
    rho = case.water.density
    for name, choice in size_upright(case, 0.0, 0.1).choices.items():
        exact = (rho * case.bowl.solid_volume - 0.03) / (1.0 - rho / MATERIALS[name])
        assert exact > 0.01
        assert choice.sinking.mass == pytest.approx(exact, rel=1e-5)
        assert choice.sinking.verdict != "floats"


def test_steps_are_those_that_a_person_adds_and_say_what_check_says():
    answer = rings()
    rows = answer.choices["brass"].rows
    assert [row.mass for row in rows[:3]] == pytest.approx([0.0, 0.04, 0.08])
    for row in rows[1:3]:
        found = check(light_cup(row, MATERIALS["brass"]))
        assert row.verdict == found.verdict


def test_page_keeps_the_caution_and_names_every_material(tmp_path, capsys):
    path = tmp_path / "cup.toml"
    path.write_text(cups.cup_text(12, mass=100.0), encoding="utf-8")
    with pytest.raises(SystemExit) as end:
        main(["size", str(path), "--upright", "1 mm", "--step", "0.1 kg"])
    assert end.value.code == 0
    page = capsys.readouterr().out
    assert "wash your hands" in page
    for name in MATERIALS:
        assert name in page
    with pytest.raises(SystemExit) as end:
        main(["size", str(path)])
    assert end.value.code == 2
    assert "--upright" in capsys.readouterr().err
