"""What a run will cost, against runs of coarse grids; no seconds, only cells and steps."""

import pytest

from coarse_cups import STEEL, case_of, thick_cup
from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.files.result import read_result
from sinkbowl.running.ensemble_runs import RIM_SHARE
from sinkbowl.running.estimate import Estimate, estimate
from sinkbowl.running.forecast import Forecast, forecast
from sinkbowl.running.runner import run

CLOSE = 1.5  # factor within which a cost is wanted to be known beforehand


def cup(hole: str, start: str = "") -> Case:
    return case_of(STEEL.replace('"40 mm"', f'"{hole}"') + start)


@pytest.mark.slow
@pytest.mark.parametrize(
    "case",
    [
        cup("40 mm"),
        cup("60 mm"),
        cup("92 mm"),
        cup("96 mm"),
        cup("96 mm", '[start]\nkind = "drop"\ndrop_height = "10 mm"\n'),
        thick_cup(1500.0),
        thick_cup(500.0),
    ],
    ids=["40 mm", "60 mm", "92 mm", "base gone", "base gone, dropped", "thick", "floats"],
)
def test_cells_are_known_and_steps_and_end_within_a_factor(case, tmp_path):
    """Against the run itself."""
    told = forecast(case)
    done = run(case, tmp_path / "cup.h5")
    result = read_result(tmp_path / "cup.h5")
    assert told.cells == result.grid["open_fraction"].shape
    print(f"{told.steps} steps told, {done.steps} made")
    assert done.steps / CLOSE < told.steps < done.steps * CLOSE
    end = result.history["t"][-1]
    assert end / CLOSE < told.duration < end * CLOSE


def test_narrower_hole_and_finer_cell_cost_more():
    """Longer sinking, smaller steps, more cells; from first principles."""
    work = [forecast(cup(hole)).cell_steps for hole in ("12 mm", "20 mm", "40 mm")]
    assert work == sorted(work, reverse=True)
    fine = case_of(STEEL.replace('"4 mm"', '"1 mm"'))
    assert forecast(fine).cell_steps > 2 * forecast(cup("40 mm")).cell_steps


@pytest.mark.slow
def test_estimate_times_steps_and_leaves_nothing(tmp_path, monkeypatch, answer, figures, written):
    """Seconds are steps times the measured cost of a step; no timing is asserted."""
    monkeypatch.chdir(tmp_path)
    case = written(STEEL)
    told = figures("run", case, "--estimate")
    work = forecast(case_of(STEEL))
    assert (told["cells_r"], told["cells_z"]) == work.cells
    assert told["cells"] == work.cells[0] * work.cells[1]
    assert told["steps"] == work.steps
    assert told["wall_seconds"] == pytest.approx(told["steps"] * told["seconds_per_step"])
    assert told["processor_seconds"] > 0.0
    assert told["steps_timed"] > 0
    assert f"about {work.steps} steps" in answer("run", case, "--estimate")
    assert list(tmp_path.iterdir()) == [case]


def test_several_runs_cost_their_cells_and_steps_and_go_side_by_side():
    """From first principles: work adds up, one run goes on after its rim, and none is halved."""
    works = (Forecast((40, 50), 1000, 0.5), Forecast((20, 25), 500, 0.5))
    both = Estimate(works, 2e-3, 1e-3, 50, members=8, workers=2)
    assert both.runs == 16
    to_the_rim, after = RIM_SHARE * 8 * (1.0 + 0.125), 1.0 - RIM_SHARE
    assert both.processor_seconds == pytest.approx(to_the_rim + after)
    assert both.seconds == pytest.approx(2.0 * (to_the_rim / 2 + after))
    one = Estimate(works[:1], 2e-3, 1e-3, 50, members=1, workers=64)
    assert one.seconds == pytest.approx(2.0)
    three = Estimate(works[:1], 2e-3, 1e-3, 50, members=3, workers=2)
    assert three.seconds == pytest.approx(2.0 * (2 * RIM_SHARE + after))


@pytest.mark.slow
def test_estimate_with_members_and_grids_tells_of_all_runs(tmp_path, figures, written):
    case = written(STEEL)
    told = figures("run", case, "--estimate", "--members", 4, "--grids", 3)
    assert told["runs"] == 12
    assert len(told["grids"]) == 3
    single = told["steps"] * told["seconds_per_step"]
    assert told["wall_seconds"] > 0.9 * single
    assert told["processor_seconds"] > 4 * told["steps"] * 0.1 * told["seconds_per_step"]
    assert list(tmp_path.iterdir()) == [case]


def test_case_that_cannot_be_computed_has_no_estimate():
    with pytest.raises(CaseError, match=r"flow\.hole"):
        estimate(case_of(STEEL.replace("40 mm", "60 mm") + 'hole = "closed"\n'))
    with pytest.raises(CaseError, match="too coarse"):
        forecast(cup("1 mm"))
