"""The split of the forces on a sinking bowl: Newton's law, Archimedes and Torricelli."""

import numpy as np
import pytest
from matplotlib.text import Annotation
from numpy.typing import NDArray

from coarse_cups import THICK, case_of
from console import call
from cups import cup_text, ring_text
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl.running.runner import run
from sinkbowl_post.comparing.forces import (
    WINDOWS,
    Forces,
    _forces,
    _rows,
    forces_figure,
    mean_forces,
)
from sinkbowl_post.style import save_figure, time_unit
from synthetic import DISCHARGE, MASS, keep_steps, write_result
from text_boxes import overlapping

ROUNDED = THICK.replace('"40 mm"', '"40 mm"\nedge = "rounded"')
"""A cup that the grid carries as it is."""

RING = ring_text(60, 34, -3.5)
CELLS = '[flow]\ncell = "6 mm"\nbase_cell = "2 mm"'
BRASS = "8500 kg/m^3"
THIN_CAP = cup_text(40, shape="cap", radius=70, density=BRASS, more=CELLS)
RING_LIFT = 0.060 / 8500.0 * 998.2072 * GRAVITY  # N, all under water


def step_forces(result: Result) -> Forces:
    """Forces over each step after the first, until the rim is under."""
    rows = _rows(result)
    return _forces(result, rows, np.arange(rows.stop - rows.start))


def unbalanced(forces: Forces) -> NDArray[np.float64]:
    """What weight, lift and rest leave over from the net force [N]."""
    return forces.weight + forces.lift + forces.rest - forces.net


@pytest.fixture(scope="module", params=["", RING], ids=["bare", "ring below"])
def sunk(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Result:
    path = tmp_path_factory.mktemp("forces") / "cup.h5"
    run(case_of(ROUNDED.format(density=4000.0) + request.param), path)
    return read_result(path)


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("still") / "run.h5", steps=2000))


def test_the_forces_add_up_to_mass_times_acceleration(sunk):
    """Newton's second law, step by step, with the acceleration from the stored speeds. The solver
    advances the speed with just these forces, and a cup's inner volume is straight between the
    heights of its table, so what remains is round-off: speeds near 1 m/s, differences over steps of
    1e-4 s, 1e-12 of gravity. The ring's lift is more than 1e-3 of the weight."""
    forces = step_forces(sunk)
    assert len(forces.t) > 20
    worst = float(np.max(np.abs(unbalanced(forces))) / -forces.weight)
    assert worst < 1e-9, f"{worst:.2e} of the weight"
    assert np.max(np.abs(forces.net)) > 0.02 * -forces.weight, "nothing accelerates"


@pytest.mark.slow
def test_a_thickened_wall_keeps_the_balance_to_one_step(tmp_path):
    """Newton's second law where the grid's wall is thicker than the case's. The water that the wall
    keeps out weighs on the bowl as it did when the step began, and is told here at its end: apart
    they are by what a step changes of it, within the table's 1e-6."""
    path = tmp_path / "thin.h5"
    run(case_of(THIN_CAP), path)
    result = read_result(path)
    forces, history, bowl = step_forces(result), result.history, result.case.bowl
    steps = slice(0, 1 + len(forces.t))
    level = bowl.inner_edge_height + history["inner_level"][steps]
    kept_out = bowl.inner_volume(level) - history["inner_volume"][steps]
    weight = 998.2072 * GRAVITY * kept_out
    share = float(np.max(weight) / -forces.weight)
    assert share > 0.1, f"the wall keeps out only {share:.1e} of the weight"
    lag = unbalanced(forces) + np.diff(weight)
    worst = float(np.max(np.abs(lag)) / -forces.weight)
    assert worst < 1e-6, f"{worst:.2e} of the weight"


def test_the_ring_is_lifted_by_the_water_that_it_displaces(sunk):
    """Archimedes: the lift of the bare cup's closed form, and that of the ring where there is one.
    Radius 50 mm, walls and base 10 mm, hole 40 mm; the hole's plug counts as water inside."""
    forces, history = step_forces(sunk), sunk.history
    rows = slice(1, 1 + len(forces.t))
    level = history["inner_level"][rows]
    hole, inner = np.pi * 0.02**2, np.pi * 0.04**2
    inside = hole * np.minimum(0.01 + level, 0.01) + inner * np.maximum(level, 0.0)
    outside = np.pi * 0.05**2 * np.minimum(history["draft"][rows], 0.06)
    cup = 998.2072 * GRAVITY * (outside - inside)
    expected = cup + (RING_LIFT if sunk.case.ballast else 0.0)
    assert forces.lift == pytest.approx(expected, rel=1e-4)


def test_averages_keep_the_impulse(sunk):
    """Windows cover every step once, so the impulses of all forces are the same."""
    steps, means = step_forces(sunk), mean_forces(sunk)
    assert len(means.t) <= WINDOWS
    assert means.t[-1] == steps.t[-1]
    for name in ("lift", "rest", "net"):
        impulse = np.sum(getattr(means, name) * means.dt)
        assert impulse == pytest.approx(np.sum(getattr(steps, name) * steps.dt), abs=1e-12), name
    change = -(sunk.history["speed"][len(steps.t)] - sunk.history["speed"][0])
    assert np.sum(means.net * means.dt) == pytest.approx(sunk.case.total_mass * change, abs=1e-12)


def test_a_quasi_static_filling_is_carried_by_archimedes_alone(still):
    """The made-up history obeys Archimedes in closed form: lift is weight all the way."""
    forces = mean_forces(still)
    assert forces.weight == pytest.approx(-MASS * GRAVITY)
    assert forces.lift == pytest.approx(MASS * GRAVITY, rel=1e-4)


def test_the_discharge_coefficient_over_time_is_torricellis(still):
    """The made-up flow is C_d a sqrt(2 g head) at every time."""
    assert mean_forces(still).discharge == pytest.approx(DISCHARGE, rel=1e-9)
    assert step_forces(still).discharge == pytest.approx(DISCHARGE, rel=1e-9)


def test_the_slide_names_every_force_beside_its_curve(sunk, tmp_path):
    figure = forces_figure(sunk)
    save_figure(figure, tmp_path / "forces.png")
    texts = [text.get_text() for axes in figure.axes for text in axes.texts]
    for name in ("hydrostatic lift", "weight", "net force", "moving water"):
        assert any(name in text for text in texts), (name, texts)
    assert all(axes.get_legend() is None for axes in figure.axes)
    assert overlapping(figure) == []
    assert "means over" in figure.texts[1].get_text()


def test_a_peak_that_runs_out_of_a_panel_is_named_where_it_does(still):
    """The lowest speed change of a made-up history, put in by hand, stands at its own time."""
    speed = still.history["speed"]
    speed[len(speed) // 2 :] += 0.5
    figure = forces_figure(still)
    speed[len(speed) // 2 :] -= 0.5
    named = [text for text in figure.axes[0].texts if text.get_text().startswith("down to ")]
    assert len(named) == 1
    assert isinstance(named[0], Annotation)
    t = still.history["t"]
    when = float(t[len(t) // 2]) * time_unit(float(t[-1]))[0]
    assert named[0].xy[0] == pytest.approx(when, rel=0.05)
    assert named[0].xy[1] == figure.axes[0].get_ylim()[0]


def test_a_run_with_no_two_steps_is_refused(tmp_path):
    path = write_result(tmp_path / "short.h5", status="running")
    keep_steps(path, 1)
    with pytest.raises(ResultError, match=r"short\.h5: has fewer than two steps"):
        forces_figure(read_result(path))


@pytest.mark.slow
def test_the_command_draws_the_slide(still, tmp_path):
    slide = tmp_path / "forces.svg"
    assert call("compare", still.path, "--forces", slide) == 0
    assert slide.stat().st_size > 10_000
