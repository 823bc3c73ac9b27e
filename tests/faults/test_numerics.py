"""Numbers that go wrong: a run stops with what, when and where, and keeps its last checkpoint."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from cups import cup, cup_text
from faults.killed_runs import CUP, differences
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import CaseError, RunError
from sinkbowl.files.result import read_result
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.running import numerical_checks
from sinkbowl.running.run_state import RunState, begin
from sinkbowl.running.runner import run

CASE = parse_case(CUP, Path(), "cup.toml")
PLACE = re.compile(r"At t = (\S+) s, r = (\S+) mm, z = (\S+) mm above the bowl's outer bottom: ")


def under_way(path: Path, steps: int = 20) -> RunState:
    """A run state some steps after its last checkpoint."""
    run_state = begin(initialise(CASE), path, False, 0.02)
    run_state.open_run()
    for _ in range(steps):
        run_state.step()
    run_state.checkpoint()
    for _ in range(5):
        run_state.step()
    return run_state


def cell_near(sim: Simulation, r: float, z: float) -> tuple[int, int]:
    grid = sim.ops.grid
    return int(np.argmin(np.abs(grid.r_c - r))), int(np.argmin(np.abs(grid.z_c - z)))


SPOT = (0.030, -0.040)  # a place in the water under the bowl, r and z [m]


def no_number(sim: Simulation) -> None:
    sim.state.u_z[cell_near(sim, *SPOT)] = np.nan


def far_too_fast(sim: Simulation) -> None:
    sim.state.u_z[cell_near(sim, *SPOT)] = 1e7


def water_from_nowhere(sim: Simulation) -> None:
    i, j = cell_near(sim, *SPOT)
    sim.state.water[i, j] *= 1.1


def momentum_from_nowhere(sim: Simulation) -> None:
    sim.state.u_z += 1.0


def solver_out_of_steps(sim: Simulation) -> None:
    sim.ops = replace(sim.ops, solver=replace(sim.ops.solver, most=1))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("spoil", "says", "at_the_spot"),
    [
        (no_number, "a velocity is not a number", True),
        (far_too_fast, "the time step fell to", True),
        (water_from_nowhere, "water volume is not conserved", False),
        (momentum_from_nowhere, "momentum is not conserved", False),
        (solver_out_of_steps, "the pressure solve did not converge", False),
    ],
)
def test_what_goes_wrong_is_told_with_time_and_place_and_the_run_can_go_on(
    tmp_path, spoil, says, at_the_spot
):
    """A real state, spoilt by hand; going on from the checkpoint ends as an unspoilt run."""
    path = tmp_path / "cup.h5"
    run_state = under_way(path)
    time = run_state.sim.state.time
    spoil(run_state.sim)
    with pytest.raises(RunError) as stopped, run_state.recorder:
        run_state.step()
    told = str(stopped.value)
    print(told)
    assert says in told
    assert "Try a smaller flow.cell" in told
    found = PLACE.match(told)
    t, r, z = map(float, found.groups())
    assert t == pytest.approx(time, abs=2e-3)
    if at_the_spot:
        assert 1e-3 * r == pytest.approx(SPOT[0], abs=0.01)
        assert 1e-3 * z == pytest.approx(SPOT[1], abs=0.01)
    assert read_result(path).status == "failed"
    assert read_result(path).attrs["message"] == told
    run(CASE, path, resume=True)
    run(CASE, tmp_path / "whole.h5", frame_interval=0.02)
    assert differences(tmp_path / "whole.h5", path) == []


def test_water_thrown_over_the_top_of_the_grid_before_the_rim_is_under_stops_a_run(tmp_path):
    run_state = under_way(tmp_path / "cup.h5", steps=2)
    run_state.watch.thrown_out = 0.11 * run_state.sim.layout.bowl.inner_capacity
    told = r"left through the top of the grid.*drop_height"
    with pytest.raises(RunError, match=told) as why, run_state.recorder:
        run_state.step()
    found = PLACE.match(str(why.value))
    top = run_state.sim.ops.grid.z_f[-1]
    assert float(found[3]) == pytest.approx(1e3 * top, rel=1e-3)


@pytest.mark.slow
def test_a_hard_drop_has_room_for_its_splash(tmp_path):
    """Dropped from half a metre, the jet would leave a grid that ends a bowl's height above."""
    case = case_of(STEEL + '[start]\nkind = "drop"\ndrop_height = "500 mm"\n')
    assert lay_out(case).grid.z_f[-1] == pytest.approx(0.120 + 0.500)
    ended = run(case, tmp_path / "cup.h5")
    assert ended.status == "finished"
    assert ended.sinking_time is not None
    lost = read_result(tmp_path / "cup.h5").attrs["thrown_out_m3"]
    print(f"{1e6 * lost:.3g} mL over the top")
    assert (lost > 1e-3 * case.bowl.inner_capacity) == any(
        "through the top" in n for n in ended.notes
    )


CONE = cup_text(
    56.79,
    title="Steel cone",
    shape="cone",
    radius=70.92,
    base_radius=39.74,
    height=112.36,
    wall=2.71,
    base=2.71,
    density="7900 kg/m^3",
    more='[flow]\ncell = "2.4 mm"\nbase_cell = "2 mm"',
)


@pytest.mark.slow
def test_once_the_rim_is_under_the_time_stands_whatever_is_thrown_out(tmp_path, monkeypatch):
    """A heavy cone goes under at a tenth of a second; its hollow closes half a second later and
    throws water through the top of the grid: how much is chance, so the bound is set low."""
    monkeypatch.setattr(numerical_checks, "THROWN_OUT", 2e-3)
    path, case = tmp_path / "cone.h5", parse_case(CONE, Path(), "cone.toml")
    ended = run(case, path)
    result = read_result(path)
    assert ended.status == result.status == "finished"
    assert ended.sinking_time == result.sinking_time == result.events["rim_under"]
    assert result.events["rim_under"] < 0.12
    lost = float(result.attrs["thrown_out_m3"])
    assert lost > 2e-3 * case.bowl.inner_capacity
    told = [note for note in str(result.attrs["notes"]).splitlines() if "through the top" in note]
    assert told == [note for note in ended.notes if "through the top" in note]
    assert told[0].startswith(f"{1e6 * lost:.3g} mL")


@pytest.mark.slow
def test_numbers_that_go_wrong_after_the_rim_is_under_end_the_run_and_leave_its_time(
    tmp_path, monkeypatch
):
    def spoilt_after_the_rim(sim: Simulation) -> float:
        if sim.draft > sim.case.bowl.rim_height + 1e-3:
            no_number(sim)
        return numerical_checks.next_step(sim)

    monkeypatch.setattr("sinkbowl.running.run_state.next_step", spoilt_after_the_rim)
    ended = run(CASE, tmp_path / "cup.h5")
    result = read_result(tmp_path / "cup.h5")
    assert ended.status == result.status == "finished"
    assert ended.sinking_time == result.events["rim_under"]
    assert "not computed to the end" in ended.outcome
    assert "not a number" in str(result.attrs["message"])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["volume_error", "momentum_error"])
def test_an_ordinary_run_is_far_from_stopping(tmp_path, name):
    """The bounds are wide of what a sound run does, and narrow of what the spoilt ones did."""
    run(CASE, tmp_path / "cup.h5")
    worst = np.abs(read_result(tmp_path / "cup.h5").history[name]).max()
    assert worst < {"volume_error": 1e-12, "momentum_error": 0.05}[name]


def refusal(text: str) -> CaseError:
    with pytest.raises(CaseError) as caught:
        lay_out(case_of(text))
    print(caught.value)
    assert caught.value.key == "flow.cell"
    return caught.value


def promised(error: CaseError) -> str:
    """The cell that the refusal says would do."""
    found = re.search(r"Give (?:at most|about) (\S+ mm)|give about (\S+ mm)", str(error))
    return found[1] or found[2]


@pytest.mark.parametrize("wall", ["0.05 mm", "0.3 mm"])
def test_a_wall_that_would_vanish_on_the_grid_is_refused(wall):
    text = STEEL.replace('"2 mm"', f'"{wall}"')
    error = refusal(text)
    assert f"too coarse for a wall or base of {wall}" in str(error)
    lay_out(case_of(text.replace('"4 mm"', f'"{promised(error)}"')))


def test_a_wall_that_would_be_thickened_beyond_recognition_is_refused():
    text = STEEL.replace('"cup"', '"cap"').replace('base = "2 mm"\n', "")
    text = text.replace('cell = "4 mm"', 'cell = "9 mm"')
    error = refusal(text)
    lay_out(case_of(text.replace('"9 mm"', f'"{promised(error)}"')))


def huge() -> str:
    text = STEEL.replace('"50 mm"', '"5 m"').replace('"60 mm"', '"5 m"').replace('"2 mm"', '"9 mm"')
    return text.replace('"40 mm"', '"1 m"').replace('"200 g"', '"1000 kg"')


def test_a_grid_beyond_any_memory_is_refused_with_its_estimate():
    """Ten thousand million cells of 0.05 mm; half a kilobyte each."""
    error = refusal(huge().replace('"4 mm"', '"0.05 mm"'))
    assert re.search(r"needs \de\+10 cells, about \de\+03 GB", str(error))


def test_the_cell_that_is_promised_instead_of_a_huge_grid_is_accepted():
    text = huge().replace('"4 mm"', '"1 mm"')
    assert lay_out(case_of(text.replace('"1 mm"', f'"{promised(refusal(text))}"'))).cell > 1e-3


def test_a_base_cell_that_would_take_for_ever_is_refused_with_its_estimate(tmp_path):
    """A wide cup with a hole of 4 mm sinks for a quarter of an hour, in steps of 20 us."""
    flow = '[flow]\nhole = "resolved"\nbase_cell = "0.05 mm"'
    case = cup(4, radius=150, height=150, mass=3000, more=flow)
    with pytest.raises(CaseError, match=r"asks for .* steps of .* cells, some .* days") as caught:
        run(case, tmp_path / "cup.h5")
    assert caught.value.key == "flow.base_cell"
    assert not list(tmp_path.iterdir())
