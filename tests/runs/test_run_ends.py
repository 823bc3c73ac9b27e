"""How runs start and end: stopped, failed, refused, pushed, dropped, afloat."""

from dataclasses import replace

import h5py
import numpy as np
import pytest

import cups
from coarse_cups import STEEL, Interruption, case_of, thick_cup
from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError, ResultError, RunError
from sinkbowl.files.result import read_result
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.tables import tabulate
from sinkbowl.running.runner import Progress, run
from sinkbowl.statics.hydrostatics import dry_draft, final_draft


def test_ctrl_c_leaves_a_stopped_but_valid_file(tmp_path):
    """Design: an interrupted run keeps what it has, with status "stopped"."""
    path, stop = tmp_path / "cup.h5", Interruption(0.03, KeyboardInterrupt())
    outcome = run(thick_cup(1500.0), path, progress=stop)
    result = read_result(path)
    assert outcome.status == result.status == "stopped"
    assert len(result.history["t"]) == outcome.steps == stop.step
    assert result.history["t"][-1] >= 0.03
    assert result.sinking_time is None
    assert "stopped by hand" in str(result.attrs["message"])
    assert result.sinking().outcome == result.outcome != ""
    assert abs(outcome.volume_error) < 1e-12
    with h5py.File(path) as file:
        assert np.isnan(file.attrs["sinking_time_s"])


def test_run_that_fails_leaves_what_it_has_with_status_failed(tmp_path):
    """Design: the file keeps what was computed, and says why it ended."""
    path = tmp_path / "cup.h5"
    with pytest.raises(RunError, match="no such luck"):
        run(thick_cup(1500.0), path, progress=Interruption(0.02, RunError("no such luck")))
    result = read_result(path)
    assert result.status == "failed"
    assert "no such luck" in str(result.attrs["message"])
    assert result.history["t"][-1] >= 0.02


def test_existing_file_is_kept_unless_it_is_to_be_replaced(tmp_path):
    """Nobody's result is lost by a repeated command."""
    path = tmp_path / "cup.h5"
    path.write_text("mine")
    stop = Interruption(0.0, KeyboardInterrupt())
    with pytest.raises(ResultError, match="exists already"):
        run(thick_cup(1500.0), path, progress=stop)
    assert path.read_text() == "mine"
    run(thick_cup(1500.0), path, overwrite=True, progress=stop)
    assert read_result(path).status == "stopped"


WIDE = STEEL.replace("40 mm", "60 mm") + 'hole = "closed"\n'  # a hole that no discharge law closes


def test_what_the_solver_cannot_do_is_refused_and_no_file_is_left(tmp_path):
    """An option is honoured or refused, by its key and with what to do; never ignored."""
    path = tmp_path / "cup.h5"
    with pytest.raises(CaseError) as caught:
        run(case_of(WIDE), path)
    assert caught.value.key == "flow.hole"
    assert caught.value.allowed
    assert "flow.hole" in str(caught.value)
    assert not path.exists()


def test_refused_case_does_not_touch_the_file_it_would_replace(tmp_path):
    """Bad input must not cost an old result, even with `overwrite`."""
    path = tmp_path / "cup.h5"
    path.write_text("mine")
    with pytest.raises(CaseError):
        run(case_of(WIDE), path, overwrite=True)
    assert path.read_text() == "mine"


def test_push_starts_the_bowl_downwards_and_the_water_takes_its_share(tmp_path):
    """Impulse over mass, less the added mass that the first solve gives it: slower, not upwards."""
    case = thick_cup(1500.0, '[start]\nkind = "push"\npush = "0.05 N s"\n')
    outcome = run(case, tmp_path / "cup.h5", frame_interval=0.2)
    history = read_result(tmp_path / "cup.h5").history
    free = 0.05 / case.total_mass
    assert 0.2 * free < history["speed"][0] < free
    assert history["draft"][:3] == pytest.approx(dry_draft(case), abs=1e-3)
    assert outcome.sinking_time is not None
    assert outcome.outcome.startswith("sinks")
    assert np.abs(history["volume_error"]).max() < 1e-10


def test_push_is_shared_at_once_by_bowl_water_and_the_fluid_in_the_hole(tmp_path):
    """Speed and flow of the inertia matrix (Lamb's disc, half a spheroid, Rayleigh's hole), 10 %.
    Within 0.2 ms, in short steps: the water still rests as the bowl begins to move."""
    case = load_case(shipped_case("lily-bowl"))
    case = replace(case, flow=replace(case.flow, hole="resolved"))
    stop = Interruption(2e-4, KeyboardInterrupt())
    run(case, tmp_path / "lily.h5", progress=stop)
    history = read_result(tmp_path / "lily.h5").history
    _, speed, _, flow, _ = first_state(tabulate(case))
    soon = int(np.searchsorted(history["t"], 2e-4)) - 1
    assert soon > 5
    assert history["speed"][soon] == pytest.approx(speed, rel=0.1)
    assert history["hole_flow"][soon] == pytest.approx(flow, rel=0.1)


def test_dropped_bowl_meets_the_water_at_its_free_fall_speed(tmp_path):
    """v = sqrt(2 g h) as its base touches; the water then slows it, and it sinks in the end."""
    case = thick_cup(1500.0, '[start]\nkind = "drop"\ndrop_height = "10 mm"\n')
    outcome = run(case, tmp_path / "cup.h5", frame_interval=0.2)
    history = read_result(tmp_path / "cup.h5").history
    fall = np.sqrt(2.0 * GRAVITY * 0.01)
    assert 0.0 < history["draft"][0] < 2e-3
    assert 0.1 * fall < history["speed"][0] <= fall + GRAVITY * history["dt"][0]
    assert outcome.sinking_time is not None
    assert outcome.outcome.startswith("sinks")
    assert np.abs(history["volume_error"]).max() < 1e-10


@pytest.mark.slow
def test_bowl_lighter_than_water_ends_half_sunk_at_its_archimedes_draft(tmp_path):
    """Draft at which solid below the water, times its density, is the mass; levels equal. It bobs
    on without viscosity; the means over five periods that end the run are good to half a per cent
    of the height."""
    case = thick_cup(500.0)
    outcome = run(case, tmp_path / "cup.h5", frame_interval=1.0)
    result = read_result(tmp_path / "cup.h5")
    history = result.history
    assert outcome.status == "finished"
    assert outcome.sinking_time is None
    assert result.events["half_sunk"] == history["t"][-1]
    assert "rim_under" not in result.events
    late = history["t"] > history["t"][-1] - 2.0
    draft = np.average(history["draft"][late], weights=history["dt"][late])
    wanted = final_draft(case)
    print(f"mean draft {1e3 * draft:.2f} mm, Archimedes {1e3 * wanted:.2f} mm")
    assert draft == pytest.approx(wanted, abs=0.005 * case.bowl.rim_height)
    assert f"{1e3 * wanted:.0f}"[:2] in outcome.outcome
    head = np.average(history["head"][late], weights=history["dt"][late])
    assert abs(head) < 0.005 * case.bowl.rim_height


def test_wall_thickened_for_the_grid_is_reported(tmp_path):
    """What is not computed to the letter of the case is said in a note that names the key."""
    text = STEEL.replace('shape = "cup"', 'shape = "cap"').replace('base = "2 mm"\n', "")
    stop = Interruption(0.0, KeyboardInterrupt())
    outcome = run(case_of(text), tmp_path / "cap.h5", progress=stop)
    assert any("thick" in note and "flow.cell" in note for note in outcome.notes), outcome.notes


@pytest.mark.slow
def test_water_over_the_rim_is_noted_when_it_comes(tmp_path):
    """A dropped cup ships water over its wall long before its rim goes under for good."""
    case = case_of(STEEL + '[start]\nkind = "drop"\ndrop_height = "10 mm"')
    run(case, tmp_path / "cup.h5", frame_interval=0.005)
    result = read_result(tmp_path / "cup.h5")
    r_f, z_f = result.grid["r_f"], result.grid["z_f"]
    wall = (r_f[:-1] > 0.048 - 1e-9) & (r_f[1:] < 0.05 + 1e-9)
    row = int(np.argmin(np.abs(z_f - 0.06)))
    depth = [
        result.frames.fields(k, ("volume_fraction",))["volume_fraction"][wall, row].min()
        for k in range(len(result.frames))
    ]
    seen = float(result.frames.t[int(np.argmax(np.array(depth) > 0.5))])
    noted = result.events["over_rim"]
    assert noted == pytest.approx(seen, abs=0.03), f"over the wall at {seen:.3f}, noted {noted:.3f}"


@pytest.mark.slow
def test_slow_bowl_is_not_taken_for_one_at_rest(tmp_path):
    """A small hole in a bowl lighter than water: it fills for minutes under a lasting head."""

    def enough(progress: Progress) -> None:
        if progress.t > 8.0:
            raise KeyboardInterrupt

    case = cups.cup(3, density="690 kg/m^3", more='[flow]\ncell = "3 mm"\nbase_cell = "3 mm"')
    outcome = run(case, tmp_path / "cup.h5", progress=enough, frame_interval=1.0)
    assert outcome.status == "stopped", outcome.outcome
