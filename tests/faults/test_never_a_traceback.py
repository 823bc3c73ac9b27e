"""Inputs that once ended in a traceback, and a few hundred spoilt ones: computed, or refused."""

import math
import time
from pathlib import Path
from unittest import mock

import numpy as np
import pytest

from console import call
from cups import cup, cup_text, ring_text
from faults.command_fuzz import SHORT_ESTIMATE, fuzz
from sinkbowl.case.case import parse_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.errors import CaseError, ResultError
from sinkbowl.design.budget.uncertainty import error_budget
from sinkbowl.files.result import read_result
from sinkbowl.flow import layout
from sinkbowl.flow.layout import lay_out
from sinkbowl.reduced import heave
from sinkbowl.reduced.attribution import attribute
from sinkbowl.running import estimate
from sinkbowl.statics.capillarity import cap_head
from synthetic import edited, write_result

CUP = cup_text(title="Cup")
DIGITS = "9" * 5000
HEX = "0x" + "f" * 5000
COUNTS = {"check": 50, "run": 25, "compare": 6, "curves": 12, "fit": 16, "export": 100}
COUNTS |= {"film": 12, "report": 4}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (CUP.replace('"20 mm"', DIGITS), "Has an integer with thousands of digits"),
        (CUP.replace('"20 mm"', HEX), "hole.diameter = an integer of thousands of digits"),
        (CUP + f"discharge_coefficient = {HEX}\n", "hole.discharge_coefficient"),
        (
            CUP + f"[uncertainty]\ndischarge_coefficient = [{HEX}]\n",
            "uncertainty.discharge_coefficient",
        ),
        (CUP + "discharge_coefficient = 1e-200\n", "from 0.01 up to 1"),
        (CUP.replace('"Cup"', '"\\u0000"'), "title"),
    ],
)
def test_a_case_that_no_number_holds_is_refused(text, says):
    with pytest.raises(CaseError) as refused:
        parse_case(text, Path(), "cup.toml")
    assert str(refused.value).startswith("cup.toml: ")
    assert says in str(refused.value)


def test_a_ring_lighter_than_water_is_checked_and_brass_proposed(answer, written):
    """Cup and ring float together; what is missing is told as ballast that can sink them."""
    case = written(CUP + ring_text(20, 30, -50, "50 kg/m^3"))
    assert "more ballast" in answer("check", case)


@pytest.mark.parametrize("cell", ["2 mm", "0.6 mm"])
def test_a_tub_that_leaves_no_two_cells_beside_the_bowl_is_refused(cell):
    """50.5 mm around 50 mm; check answers, for hydrostatics needs no cells."""
    case = parse_case(
        CUP + f'[flow]\ntub_radius = "50.5 mm"\ncell = "{cell}"\n', Path(), "cup.toml"
    )
    with pytest.raises(CaseError, match=r"flow\.tub_radius = .* less than 2 cells"):
        lay_out(case)


@pytest.mark.parametrize("shape", ["cap", "cone"])
def test_a_wall_that_would_cross_itself_when_it_is_thickened_is_refused(shape):
    """A saucer 5 mm high on cells of 4 mm: two of them are more than its height."""
    sizes = {"height": 5, "wall": 1, "base": 1, "density": "2500 kg/m^3"}
    sizes |= {"base_radius": 12} if shape == "cone" else {}
    with pytest.raises(CaseError, match=r"flow\.cell = .* thickened to 2 cells") as refused:
        lay_out(cup(5, shape=shape, more='[flow]\ncell = "4 mm"', **sizes))
    assert "Give at most 0.5 mm" in str(refused.value)


@pytest.mark.parametrize("radius", [400.0, 900.0, 1800.0])
@pytest.mark.parametrize("slope", [0.01, 1.0, math.pi / 2, math.pi])
def test_the_meniscus_of_a_hole_of_metres_is_that_of_a_straight_edge(radius, slope):
    """2 sin(slope / 2) in capillary lengths (Young-Laplace in two dimensions), plus O(1 / radius).
    Stated tolerance: one over the radius, the size of the first term that is left out."""
    straight = 2.0 * math.sin(0.5 * slope)
    head = cap_head(radius, slope)
    print(head, straight)
    assert straight <= head <= straight * (1.0 + 1.0 / radius)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return write_result(tmp_path / "r.h5", frames=3, cells=(6, 8), steps=20)


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e30])
def test_a_frame_that_holds_no_numbers_is_refused_when_it_is_read(path, value):
    with edited(path) as file:
        file["frames/u_z"][1, 2, 2] = value
    frames = read_result(path).frames
    assert np.all(np.isfinite(frames.fields(0)["u_z"]))
    with pytest.raises(ResultError, match="frame 1 cannot be read"):
        frames.fields(1)


@pytest.mark.parametrize("command", [("film", "f.png"), ("report", "r.html"), ("compare", "c.png")])
def test_a_result_without_a_row_of_history_breaks_nothing(path, capsys, command):
    with edited(path) as file:
        for column in file["history"].values():
            column.resize(0, axis=0)
    assert call(command[0], path, "-o", path.with_name(command[1])) in (0, 2)
    assert "internal error" not in capsys.readouterr().err


@pytest.mark.slow
def test_a_run_whose_water_never_rises_is_compared_without_reasons(tmp_path, capsys):
    path = write_result(tmp_path / "r.h5", steps=60)
    with edited(path) as file:
        file["history/inner_level"][:] = -1.0
        file["history/inner_volume"][:] = 0.0
    assert call("compare", path, "--json") == 0
    told = capsys.readouterr()
    assert "too short or too rough for an attribution" in told.out
    assert "internal error" not in told.err


def test_a_brimful_bowl_whose_hole_stops_flowing_comes_to_rest():
    """As it spills its last drop it drains, and while it is full to the brim it spills."""
    case = parse_case(cup_text(56, wall=16), Path(), "cup.toml")
    with mock.patch.object(heave, "integrate", wraps=heave.integrate) as legs:
        sinking = heave.solve(case)
    assert sinking.outcome.startswith("floats")
    assert legs.call_count < 10


@pytest.mark.slow
@pytest.mark.parametrize("temperature", ["0.003 degC", "99.9 degC"])
def test_spread_beside_the_temperatures_at_which_water_is_known(temperature):
    """Draws lie beyond the one standard uncertainty that the range leaves."""
    case = parse_case(CUP + f'[water]\ntemperature = "{temperature}"\n', Path(), "cup.toml")
    assert error_budget(case).uncertainty > 0.0


@pytest.mark.slow
def test_a_bowl_that_bobs_on_a_hole_that_hardly_passes_is_answered_soon(figures, written):
    """With so small a C the law jumps as the flow turns; the bowl is slow, and the check is not."""
    text = shipped_case("lily-bowl").read_text(encoding="utf-8")
    wide = text.replace('"10 mm"', '"10 mm"\ndischarge_coefficient = 0.0312')
    path = written(
        wide.replace("outlines/", f"{shipped_case('lily-bowl').parent}/outlines/"), "lily.toml"
    )
    begun = time.process_time()
    told = figures("check", path)["reduced"]
    print(f"{time.process_time() - begun:.1f} s of processor time")
    slow = told["quasi-static"]["sinking_time_s"]
    assert told["heave"]["sinking_time_s"] == pytest.approx(slow, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("command", COUNTS)
def test_spoilt_inputs_never_break_a_command(command, tmp_path, monkeypatch):
    """Exit status 0, or 1 or 2 with a message; what the handler at the top caught is a failure."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    with monkeypatch.context() as kept:
        kept.setattr(layout, "MOST_CELLS", layout.MOST_CELLS)  # put back after the fuzz sets it
        kept.setattr(attribute, "STAGES", attribute.STAGES)
        for name in SHORT_ESTIMATE:
            kept.setattr(estimate, name, getattr(estimate, name))
        tally = fuzz(tmp_path / "inputs", COUNTS[command], 11, [command])[command]
    print(tally)
    assert tally.failures == {}
    assert tally.ends["done"] > 0
    assert tally.ends["refused"] > 0
