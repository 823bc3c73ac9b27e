"""Several bowls in one film: one scale, one clock, each hole's name, a model's levels in place."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb

import synthetic
from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl.reduced import MODELS
from sinkbowl_post.filming.film import film
from sinkbowl_post.filming.ghost import levels_of
from sinkbowl_post.filming.rendering import scene_of
from sinkbowl_post.filming.row import HEIGHT, RowScene, boxes_of, names_of
from sinkbowl_post.filming.script import (
    FRAMES_PER_SECOND,
    MOST_FRAMES,
    FilmOptions,
    Script,
    common_clock,
    script_of,
)
from sinkbowl_post.filming.single import CUTAWAY
from sinkbowl_post.filming.stage import SIZE, Box
from sinkbowl_post.style import LINES, MATERIALS
from synthetic import BASE, RADIUS, WALL, filling, write_faster_result, write_result

STEEL = MATERIALS["steel"][0]
HASTE = 3.0


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Result]:
    """A bowl, and one that sinks in a third of the time."""
    folder = tmp_path_factory.mktemp("row")
    slow = read_result(write_result(folder / "slow.h5", frames=7))
    return slow, read_result(write_faster_result(folder / "fast.h5", "35 mm", HASTE, frames=7))


def panels(pixels: np.ndarray, runs: int) -> list[np.ndarray]:
    return [
        pixels[top : top + height, left : left + width, :3].copy()
        for left, top, width, height in boxes_of(runs)
    ]


def times(*ends: float, frames: int = 11) -> list[Any]:
    return [FakeFrames(np.linspace(0.0, end, frames)) for end in ends]


class FakeFrames(SimpleNamespace):
    """The times of a result's frames."""

    def __init__(self, t: np.ndarray) -> None:
        super().__init__(t=t)

    def __len__(self) -> int:
        return len(self.t)


def test_each_run_shows_the_frame_nearest_to_the_common_clock():
    clock = common_clock(times(1.0, 0.3))
    step = float(np.diff(clock.t)[0])
    assert step == pytest.approx(0.03, rel=0.02)  # as fine as the finer of the two
    for frames, run in zip(clock.frames, times(1.0, 0.3), strict=True):
        apart = np.abs(run.t[frames] - np.minimum(clock.t, run.t[-1]))
        assert apart.max() <= np.diff(run.t)[0] / 2 + 1e-12


def test_a_run_that_is_done_stays_at_its_last_frame():
    clock = common_clock(times(1.0, 0.3))
    done = clock.t > 0.3
    assert done.any()
    assert set(clock.frames[1, done]) == {10}
    assert len(set(clock.frames[0, done])) > 5


def test_a_long_run_beside_a_short_one_makes_no_endless_film():
    clock = common_clock(times(60.0, 0.3))
    assert len(clock) == MOST_FRAMES
    assert clock.t[-1] == 60.0
    assert clock.slowness == pytest.approx((MOST_FRAMES - 1) / FRAMES_PER_SECOND / 60.0)


@pytest.mark.parametrize("runs", [2, 3, 4])
def test_the_boxes_stand_side_by_side_inside_the_picture(runs):
    boxes = boxes_of(runs)
    assert len({(box.width, box.height) for box in boxes}) == 1
    assert all(box.width % 2 == 0 for box in boxes)
    ends = [(box.left, box.left + box.width) for box in boxes]
    assert all(left[1] < right[0] for left, right in pairwise(ends))
    assert ends[0][0] > 0
    assert ends[-1][1] < SIZE[0]


def test_bowls_at_the_same_instant_differ_and_the_done_one_stands_still(pair):
    script = script_of(pair, FilmOptions())
    scene = RowScene(script)
    late = int(np.searchsorted(script.clock.t, 1.1 * pair[1].frames.t[-1]))
    slow, fast = panels(scene.draw(late), 2)
    slow_after, fast_after = panels(scene.draw(len(script.clock) - 1), 2)
    assert (slow != fast).any(axis=2).mean() > 0.02
    assert np.array_equal(fast, fast_after)
    assert (slow != slow_after).any(axis=2).mean() > 0.02


def test_all_bowls_have_one_scale(pair):
    """Radius of the wall's middle, which its outline leaves in place, in both panels."""
    script = script_of(pair, FilmOptions())
    window = script.view.window(script.results, boxes_of(2)[0].width, HEIGHT)
    pixel = 2 * window.reach / window.columns
    for panel in panels(RowScene(script).draw(0), 2):
        steel = np.abs(panel.astype(int) - np.array(to_rgb(STEEL)) * 255).sum(axis=2) < 12
        left_half = steel[:, : window.columns // 2]
        row = int(np.flatnonzero(left_half.any(axis=1))[0]) + 6  # below the rim's outline
        middle = np.flatnonzero(left_half[row]).mean() + 0.5
        radius = (window.columns / 2 - middle) * pixel
        assert radius == pytest.approx(RADIUS - WALL / 2, abs=pixel)


def test_headings_are_the_holes_or_the_titles_where_holes_do_not_tell(pair):
    assert names_of(pair) == ["20 mm hole", "35 mm hole"]
    assert names_of([pair[0], pair[0]]) == ["Steel tea cup, 20 mm hole"] * 2
    text = pair[1].case.text.replace('"60 mm"', '"70 mm"')  # another bowl
    taller = SimpleNamespace(case=parse_case(text, Path(), "tall"), title="Tall cup, 35 mm hole")
    assert names_of([pair[0], taller]) == ["Steel tea cup, 20 mm hole", "Tall cup, 35 mm hole"]


def test_clock_and_slow_motion_stand_on_the_screen(pair):
    """The made-up cup takes seconds: played in two it is speeded up."""
    script = script_of(pair, FilmOptions())
    scene = RowScene(script)
    scene.draw(3)
    told = [text.get_text() for text in scene._stage.figure.texts]
    assert f"{script.clock.t[3]:.2f} s" in told
    assert f"sped up {1 / script.clock.slowness:.2g} times" in told
    assert script.clock.t[-1] == pytest.approx(filling(200).t[-1])


def test_more_than_four_runs_and_one_given_twice_are_refused(pair, tmp_path):
    five = [read_result(write_result(tmp_path / f"{k}.h5", frames=1)) for k in range(5)]
    with pytest.raises(ResultError, match="5 runs are too many"):
        film(five, [tmp_path / "film.mp4"])
    with pytest.raises(ResultError, match=r"slow\.h5: is given twice"):
        film([pair[0], pair[0]], [tmp_path / "film.mp4"])
    assert not (tmp_path / "film.mp4").exists()


@pytest.mark.parametrize("others", [0, 1])
def test_a_run_without_frames_cannot_be_filmed_and_is_named(pair, tmp_path, others):
    empty = read_result(write_result(tmp_path / "empty.h5", frames=0))
    with pytest.raises(ResultError, match=r"empty\.h5: has no frames"):
        film([*pair[:others], empty], [tmp_path / "film.mp4"])


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("ghost") / "run.h5", frames=9))


def model_heights(filmed: Result, model: str, t: float) -> tuple[float, float]:
    """Heights of inner level and bottom [m], by the model's own inner level and draft."""
    sinking = MODELS[model](filmed.case)
    draft, level = (np.interp(t, sinking.t, line) for line in (sinking.draft, sinking.inner_level))
    return float(BASE + level - draft), float(-draft)


def line_rows(picture: np.ndarray, colour: str, box: Box, script: Script) -> list[float]:
    """Middle rows of a colour's lines, left of the bowl, counted from the box's top [px]."""
    left, top, width, height = box
    window = script.view.window(script.results, width, height)
    columns = window.columns / 2 + np.array([-1.07, -1.01]) * RADIUS / window.reach * width / 2
    strip = picture[top : top + height, left + int(columns[0]) : left + int(columns[1]), :3]
    near = np.abs(strip.astype(int) - np.array(to_rgb(colour)) * 255).sum(axis=2) < 60
    rows = np.flatnonzero(near.any(axis=1))
    if not rows.size:
        return []
    groups = np.split(rows, np.flatnonzero(np.diff(rows) > 2) + 1)
    return [float(group.mean()) + 0.5 for group in groups]


def expected_row(height: float, box: Box, script: Script) -> float:
    window = script.view.window(script.results, box.width, box.height)
    return (window.top - height) / (window.top - window.bottom) * box.height


@pytest.mark.parametrize(
    ("model", "half_cut"), [("heave", False), ("quasi-static", False), ("heave", True)]
)
def test_the_lines_stand_at_the_models_levels(filmed, model, half_cut):
    script = script_of([filmed], FilmOptions(model=model, half_cut=half_cut))
    picture = scene_of(script).draw(3)
    found = line_rows(picture, LINES[model].colour, CUTAWAY, script)
    heights = model_heights(filmed, model, float(script.clock.t[3]))
    wanted = [expected_row(height, CUTAWAY, script) for height in heights]
    assert found == pytest.approx(wanted, abs=1.0)
    assert abs(wanted[0] - wanted[1]) > 20  # two lines, not one


def test_side_by_side_every_bowl_has_its_own_lines(filmed, tmp_path):
    wide = read_result(write_faster_result(tmp_path / "wide.h5", "35 mm", 3.0, frames=9))
    script = script_of([filmed, wide], FilmOptions(model="heave"))
    instant = len(script.clock) // 6
    picture = RowScene(script).draw(instant)
    for run, box in zip((filmed, wide), boxes_of(2), strict=True):
        heights = model_heights(run, "heave", float(script.clock.t[instant]))
        found = line_rows(picture, LINES["heave"].colour, box, script)
        wanted = [expected_row(height, box, script) for height in heights]
        assert found == pytest.approx(wanted, abs=1.0)


def test_past_the_model_s_end_its_lines_are_gone(filmed):
    """Unless it came to rest, where the bowl stays."""
    levels = levels_of(filmed, "heave")
    end = levels.at(float(levels.t[-1]))
    assert end[0] < -synthetic.HEIGHT
    assert levels.at(1e3) is None
    assert replace(levels, sinks=False).at(1e3) == end
    script = script_of([filmed], FilmOptions(model="heave"))
    early = replace(levels, t=levels.t * 0.3 * float(script.clock.t[-1]) / levels.t[-1])
    scene = scene_of(replace(script, levels=(early,)))
    assert len(line_rows(scene.draw(1), LINES["heave"].colour, CUTAWAY, script)) == 2
    assert line_rows(scene.draw(6), LINES["heave"].colour, CUTAWAY, script) == []


def test_lines_are_named_in_single_films_and_told_in_a_key(filmed):
    scene = scene_of(script_of([filmed], FilmOptions(model="heave")))
    scene.draw(1)
    figure = scene._stage.figure
    told = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert {"inside", "bottom"} <= set(told)
    assert "heave" in [text.get_text() for text in figure.texts]


def test_names_of_lines_that_lie_close_do_not_touch(filmed):
    """At the start the bowl is empty: the lines are a base's thickness apart."""
    script = script_of([filmed], FilmOptions(model="heave"))
    scene = scene_of(script)
    scene.draw(0)
    stage = scene._stage
    names = scene._cut._ghost._names
    low, high = sorted(
        (name.get_window_extent(stage._renderer) for name in names), key=lambda box: box.y0
    )
    assert low.y1 < high.y0


def test_an_unknown_model_is_refused(filmed):
    with pytest.raises(ResultError, match="'pump' is none of quasi-static, heave, falling"):
        script_of([filmed], FilmOptions(model="pump"))
