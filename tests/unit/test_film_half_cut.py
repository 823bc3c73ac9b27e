"""The half-cut is the revolved section seen along parallel rays: places from plain geometry.

A point at (x, y behind the cut, height z) is seen at z cos(tilt) + y sin(tilt) above the cut's
z = 0, so a circle of radius R about the axis reaches sqrt(R^2 - x^2) sin(tilt) above its height.
"""

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from sinkbowl.files.result import Result, read_result
from sinkbowl_post.drawing import Solid
from sinkbowl_post.filming.half_cut import HalfCut
from sinkbowl_post.filming.picture import Window, palette_of
from sinkbowl_post.filming.script import FilmOptions, script_of
from sinkbowl_post.filming.single import CUTAWAY, SingleScene
from sinkbowl_post.filming.view import TILT
from sinkbowl_post.style import AIR, water_map
from synthetic import HEIGHT, RADIUS, write_result

REACH, HALF, ROWS = 0.1, 250, 400
PIXEL = REACH / HALF
WINDOW = Window(REACH, -0.08 / np.cos(TILT), (ROWS * PIXEL - 0.08) / np.cos(TILT), 2 * HALF, ROWS)
CUP = np.array([(0.0, 0.0), (0.05, 0.0), (0.05, 0.06), (0.046, 0.06), (0.046, 0.004), (0.0, 0.004)])
FLOAT = 0.03  # draft of the cup [m]


def behind(with_cup: bool) -> tuple[np.ndarray, np.ndarray]:
    """Both sides of a scene of still water, with a dry cup or one that lies on the ground."""
    heights = np.linspace(WINDOW.top, WINDOW.bottom, 2 * ROWS + 1)[1::2]
    water = np.repeat((heights < 0)[:, None], HALF, axis=1).astype(np.float32)
    draft = FLOAT if with_cup else 0.3
    if with_cup:
        radii = (np.arange(HALF) + 0.5) * PIXEL
        water[np.ix_(heights > -FLOAT, radii < 0.05)] = 0.0
    palette = palette_of(water_map("none"))
    scene = HalfCut(WINDOW, palette, [Solid(CUP, "brass")], float(TILT))
    return scene(water, np.zeros(water.shape, dtype=np.intp), draft)


def highest(picture: np.ndarray, column: int) -> float:
    """Height on the screen [m] above the cut's z = 0 of the highest pixel that is no air."""
    air = np.abs(picture[:, column, :3].astype(int) - np.round(np.array(to_rgb(AIR)) * 255))
    row = int(np.flatnonzero(air.sum(axis=1) > 30)[0])
    return WINDOW.top * np.cos(TILT) - (row + 0.5) * PIXEL


@pytest.mark.parametrize("column", [0, 100, 200])
def test_still_water_ends_in_an_ellipse(column):
    x = (column + 0.5) * PIXEL
    right, _ = behind(with_cup=False)
    assert highest(right, column) == pytest.approx(
        np.sqrt(REACH**2 - x**2) * np.sin(TILT), abs=3 * PIXEL
    )


@pytest.mark.parametrize("column", [0, 60, 90])
def test_the_rim_behind_stands_where_its_circle_is_seen(column):
    x = (column + 0.5) * PIXEL
    rim = (0.06 - FLOAT) * np.cos(TILT) + np.sqrt(0.05**2 - x**2) * np.sin(TILT)
    for side in behind(with_cup=True):
        assert highest(side, column) == pytest.approx(rim, abs=3 * PIXEL)


def test_a_flat_surface_is_lit_evenly():
    right, left = behind(with_cup=False)
    level = WINDOW.top * np.cos(TILT) / PIXEL
    surface = right[int(level - 60) : int(level - 10), :100]
    assert surface.reshape(-1, 4).std(axis=0).max() < 1.0
    assert np.array_equal(surface, left[int(level - 60) : int(level - 10), :100])


def test_a_round_wall_is_lit_from_the_left():
    """The inner wall on the right faces the lamp."""
    right, left = (side.astype(int) for side in behind(with_cup=True))
    level = int(WINDOW.top * np.cos(TILT) / PIXEL)
    rows, columns = slice(level - 40, level - 20), slice(40, 110)
    assert right[rows, columns].mean() > left[rows, columns].mean() + 5


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("half") / "run.h5", frames=5))


def test_the_window_holds_the_far_rim_and_the_sunk_bowl(result):
    window = FilmOptions(half_cut=True).view(1).window([result], CUTAWAY.width, CUTAWAY.height)
    top, bottom = window.top * np.cos(TILT), window.bottom * np.cos(TILT)
    out = HEIGHT - float(result.frames.draft[0])
    assert top > out * np.cos(TILT) + RADIUS * np.sin(TILT)
    assert bottom < -float(result.frames.draft[-1]) * np.cos(TILT)
    pixel = 2 * window.reach / window.columns
    assert (top - bottom) / window.rows == pytest.approx(pixel)


def test_below_the_still_level_outside_the_bowl_the_cut_is_as_in_the_flat_view(result):
    """Only the height is foreshortened: the water's colours at the same places are the same."""
    scenes = [
        SingleScene(script_of([result], FilmOptions("pressure", half_cut=half)))
        for half in (False, True)
    ]
    seen = []
    for scene, tilt in zip(scenes, (0.0, TILT), strict=True):
        window = scene._script.view.window([result], CUTAWAY.width, CUTAWAY.height)
        column = (
            CUTAWAY.left
            + CUTAWAY.width // 2
            + round(1.3 * RADIUS / window.reach * CUTAWAY.width / 2)
        )
        depth = np.array([-0.02, -0.04, -0.06]) * np.cos(tilt)
        row = (window.top * np.cos(tilt) - depth) / (2 * window.reach / CUTAWAY.width)
        picture = scene.draw(2).astype(int)
        seen.append(picture[CUTAWAY.top + np.round(row).astype(int), column, :3])
    assert np.abs(seen[0] - seen[1]).max() <= 6
    assert np.abs(np.diff(seen[0], axis=0)).max() > 20
