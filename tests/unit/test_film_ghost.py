"""A reduced model's levels stand in the picture where the model has them."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl.reduced import MODELS
from sinkbowl_post.filming.ghost import levels_of
from sinkbowl_post.filming.rendering import scene_of
from sinkbowl_post.filming.row import RowScene, boxes_of
from sinkbowl_post.filming.script import FilmOptions, Script, script_of
from sinkbowl_post.filming.single import CUTAWAY
from sinkbowl_post.filming.stage import Box
from sinkbowl_post.style import LINES
from synthetic import BASE, HEIGHT, RADIUS, write_faster_result, write_result


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("ghost") / "run.h5", frames=9))


def model_heights(result: Result, model: str, t: float) -> tuple[float, float]:
    """Heights of inner level and bottom [m], by the model's own inner level and draft."""
    sinking = MODELS[model](result.case)
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
def test_the_lines_stand_at_the_models_levels(result, model, half_cut):
    script = script_of([result], FilmOptions(model=model, half_cut=half_cut))
    picture = scene_of(script).draw(3)
    found = line_rows(picture, LINES[model].colour, CUTAWAY, script)
    heights = model_heights(result, model, float(script.clock.t[3]))
    wanted = [expected_row(height, CUTAWAY, script) for height in heights]
    assert found == pytest.approx(wanted, abs=1.0)
    assert abs(wanted[0] - wanted[1]) > 20  # two lines, not one


def test_side_by_side_every_bowl_has_its_own_lines(result, tmp_path):
    wide = read_result(write_faster_result(tmp_path / "wide.h5", "35 mm", 3.0, frames=9))
    script = script_of([result, wide], FilmOptions(model="heave"))
    instant = len(script.clock) // 6
    picture = RowScene(script).draw(instant)
    for run, box in zip((result, wide), boxes_of(2), strict=True):
        heights = model_heights(run, "heave", float(script.clock.t[instant]))
        found = line_rows(picture, LINES["heave"].colour, box, script)
        wanted = [expected_row(height, box, script) for height in heights]
        assert found == pytest.approx(wanted, abs=1.0)


def test_past_the_model_s_end_its_lines_are_gone(result):
    """Unless it came to rest, where the bowl stays."""
    levels = levels_of(result, "heave")
    end = levels.at(float(levels.t[-1]))
    assert end[0] < -HEIGHT
    assert levels.at(1e3) is None
    assert replace(levels, sinks=False).at(1e3) == end
    script = script_of([result], FilmOptions(model="heave"))
    early = replace(levels, t=levels.t * 0.3 * float(script.clock.t[-1]) / levels.t[-1])
    scene = scene_of(replace(script, levels=(early,)))
    assert len(line_rows(scene.draw(1), LINES["heave"].colour, CUTAWAY, script)) == 2
    assert line_rows(scene.draw(6), LINES["heave"].colour, CUTAWAY, script) == []


def test_lines_are_named_in_single_films_and_told_in_a_key(result):
    scene = scene_of(script_of([result], FilmOptions(model="heave")))
    scene.draw(1)
    figure = scene._stage.figure  # type: ignore[attr-defined]
    told = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert {"inside", "bottom", "heave"} <= set(told)
    assert "heave" in [text.get_text() for text in figure.texts]


def test_names_of_lines_that_lie_close_do_not_touch(result):
    """At the start the bowl is empty: the lines are a base's thickness apart."""
    script = script_of([result], FilmOptions(model="heave"))
    scene = scene_of(script)
    scene.draw(0)
    stage = scene._stage  # type: ignore[attr-defined]
    names = scene._cut._ghost._names  # type: ignore[attr-defined]
    low, high = sorted(
        (name.get_window_extent(stage._renderer) for name in names), key=lambda box: box.y0
    )
    assert low.y1 < high.y0


def test_an_unknown_model_is_refused(result):
    with pytest.raises(ResultError, match="'pump' is none of quasi-static, heave, falling"):
        script_of([result], FilmOptions(model="pump"))
