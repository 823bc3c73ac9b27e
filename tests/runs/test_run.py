"""A whole sinking on a coarse grid: what a run tells and what it leaves in its file."""

import meshio
import numpy as np
import pytest

from coarse_cups import STEEL, case_of
from sinkbowl.common.sinking import EVENT_WORDS
from sinkbowl.files.result import Result, read_result
from sinkbowl.flow.layout import lay_out
from sinkbowl.reduced import MODELS
from sinkbowl.running.runner import Progress, RunResult, run
from sinkbowl.statics.hydrostatics import dry_draft
from sinkbowl_post.exporting.export import export


@pytest.fixture(scope="module")
def sunk(tmp_path_factory: pytest.TempPathFactory) -> tuple[RunResult, Result, list[Progress]]:
    """The steel cup with a hole of 40 mm, sunk once for all tests of this module."""
    path = tmp_path_factory.mktemp("run") / "cup.h5"
    seen: list[Progress] = []
    outcome = run(case_of(STEEL), path, progress=seen.append, frame_interval=0.05)
    return outcome, read_result(path), seen


Sunk = tuple[RunResult, Result, list[Progress]]


def test_heavy_cup_sinks_and_the_file_says_what_the_call_returns(sunk):
    """Interface of `run` and of the result file."""
    outcome, result, _ = sunk
    assert outcome.status == result.status == "finished"
    assert outcome.outcome == result.outcome == "sinks: full"
    assert outcome.sinking_time == result.sinking_time == result.events["rim_under"]
    assert outcome.path == result.path
    assert outcome.volume_error == result.history["volume_error"][-1]
    assert outcome.steps == len(result.history["t"])
    assert result.attrs["case_text"] == STEEL
    assert result.case.hole.diameter == pytest.approx(0.04)


def test_events_come_in_order_and_at_what_they_name(sunk):
    """Start, rim under, full; times are between the rows that they part. A time is read off a
    straight line between two rows, and the history is no straighter than its steps: a step's change
    is the tolerance."""
    _, result, _ = sunk
    events, history = result.events, result.history
    assert set(events) <= set(EVENT_WORDS)
    assert events["start"] == 0.0
    assert 0.0 < events["rim_under"] < events["full"] <= history["t"][-1]
    assert events["rim_under"] < events["over_rim"] < events["full"]
    rim, capacity = result.case.bowl.rim_height, result.case.bowl.inner_capacity
    draft = np.interp(events["rim_under"], history["t"], history["draft"])
    assert draft == pytest.approx(rim, abs=np.abs(np.diff(history["draft"])).max())
    inner = np.interp(events["full"], history["t"], history["inner_volume"])
    assert inner == pytest.approx(0.99 * capacity, rel=1e-3)


def test_sinking_time_is_near_the_reduced_model(sunk):
    """The package's heave model with its own discharge coefficient; a tenth of the cells' doing. 15
    %: ten cells across the hole, and a model that is 10 % slow at such holes (design)."""
    reduced = MODELS["heave"](case_of(STEEL)).sinking_time
    found = sunk[0].sinking_time
    assert found == pytest.approx(reduced, rel=0.15), f"flow {found:.3f} s, heave {reduced:.3f} s"


def test_water_volume_is_closed_at_every_step(sunk):
    """Water in the tub against its start and what came through bottom and top; design: 1e-10."""
    history = sunk[1].history
    worst = np.abs(history["volume_error"]).max()
    assert worst < 1e-10, f"{worst:.1e}"
    assert history["water_volume"].min() > 0.0


def test_inner_volume_is_what_came_through_the_hole_until_the_jet_tops_the_rim(sunk):
    """Continuity: at first there is no other way in or out. What `give_back` moves through the
    hole's plane counts as flow; round-off of some 300 steps."""
    _, result, _ = sunk
    history = result.history
    early = history["t"] < 0.2
    assert early.sum() > 100
    through = np.cumsum(history["hole_flow"] * history["dt"])
    off = np.abs(history["inner_volume"] - through)[early] / result.case.bowl.inner_capacity
    assert off.max() < 1e-13, f"{off.max():.1e}"
    assert history["inner_volume"][early][-1] > 0.2 * result.case.bowl.inner_capacity


def test_history_is_consistent_with_itself(sunk):
    """head = draft - edge - level, draft grows by the last speed times dt, volume and level match.
    The level is read off a table, good to 1e-7 of the height but for the step at the inner base."""
    _, result, _ = sunk
    history, bowl = result.history, result.case.bowl
    assert history["t"][1:] - history["t"][:-1] == pytest.approx(history["dt"][1:], rel=1e-9)
    steps = history["speed"][:-1] * history["dt"][1:]
    assert np.diff(history["draft"]) == pytest.approx(steps, abs=1e-15)
    edge = bowl.inner_edge_height
    head = history["draft"] - edge - history["inner_level"]
    assert history["head"] == pytest.approx(head, abs=1e-15)
    level = lay_out(result.case).bowl.inner_level(history["inner_volume"]) - edge
    clear = np.abs(level) > 5e-5
    assert clear.sum() > 0.9 * len(level)
    off = np.abs(history["inner_level"] - level)[clear]
    assert off.max() < 1e-7 * bowl.rim_height, f"{off.max():.1e} m"
    assert history["draft"][0] == pytest.approx(dry_draft(result.case), abs=1e-4)
    for name, column in history.items():
        assert np.all(np.isfinite(column)), name


def test_frames_come_at_the_interval_asked_for_and_fit_the_grid(sunk):
    """One at the start, one at the end, and one after each 50 ms; fractions within 0..1."""
    _, result, _ = sunk
    frames, end = result.frames, result.history["t"][-1]
    assert frames.t[0] == 0.0
    assert frames.t[-1] == end
    assert len(frames) in (int(end / 0.05) + 1, int(end / 0.05) + 2)
    assert np.all(np.abs(np.round(frames.t[:-1] / 0.05) * 0.05 - frames.t[:-1]) < 5e-3)
    assert frames.draft == pytest.approx(
        np.interp(frames.t, result.history["t"], result.history["draft"]), abs=1e-4
    )
    shape = len(result.grid["r_f"]) - 1, len(result.grid["z_f"]) - 1
    assert result.grid["open_fraction"].shape == shape
    for name, field in frames.fields(len(frames) - 1).items():
        assert field.shape == shape, name
        assert np.all(np.isfinite(field)), name
    fraction = frames.fields(3, ("volume_fraction",))["volume_fraction"]
    assert fraction.min() >= 0.0
    assert fraction.max() <= 1.0


def test_water_in_a_frame_is_the_water_in_the_history(sunk):
    """Sum of fraction times open volume; single precision of the fields."""
    _, result, _ = sunk
    r_f, z_f = result.grid["r_f"], result.grid["z_f"]
    whole = np.pi * np.outer(np.diff(r_f**2), np.diff(z_f)) * result.grid["open_fraction"]
    last = result.frames.fields(len(result.frames) - 1)["volume_fraction"]
    assert (last * whole).sum() == pytest.approx(result.history["water_volume"][-1], rel=1e-5)


def test_progress_is_told_to_the_end(sunk):
    """Time and steps rise; the last call says that all is done; estimates stay within 0..1."""
    outcome, result, seen = sunk
    assert len(seen) >= 3
    assert np.all(np.diff([progress.t for progress in seen]) > 0.0)
    assert np.all(np.diff([progress.step for progress in seen]) > 0)
    assert all(0.0 <= progress.fraction_done <= 1.0 for progress in seen)
    assert (seen[-1].fraction_done, seen[-1].step) == (1.0, outcome.steps)
    assert seen[-1].draft == result.history["draft"][-1]


@pytest.mark.slow
def test_the_exported_water_is_that_of_the_history(sunk, tmp_path):
    """Fields are stored in single precision: 1e-6 of the water."""
    _, computed, _ = sunk
    export(computed, tmp_path / "run.vtu")
    export(computed, tmp_path / "turned.vtu", sectors=5)
    for k in (0, len(computed.frames) - 1):
        at = np.argmin(np.abs(computed.history["t"] - computed.frames.t[k]))
        for name in ("run", "turned"):
            data = meshio.read(tmp_path / f"{name}_{k:04d}.vtu").cell_data
            held = zip(data["volume_fraction"], data["open_volume"], strict=True)
            water = sum(float(np.sum(share * volume)) for share, volume in held)
            assert water == pytest.approx(computed.history["water_volume"][at], rel=1e-6)
