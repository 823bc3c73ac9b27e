"""Frames: the half-cut, tracers that go where the water goes, and drawing by several processes.

The half-cut is the revolved section seen along parallel rays, with places from plain geometry: a
point at (x, y behind the cut, height z) is seen at z cos(tilt) + y sin(tilt) above the cut's z = 0,
so a circle of radius R about the axis reaches sqrt(R^2 - x^2) sin(tilt) above its height.
"""

import os
import signal
import subprocess
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import psutil
import pytest
from matplotlib.colors import to_rgb

from console import last_line, started
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.drawing import Solid
from sinkbowl_post.filming.half_cut import HalfCut
from sinkbowl_post.filming.picture import Window, palette_of
from sinkbowl_post.filming.rendering import draw_frames
from sinkbowl_post.filming.script import FilmOptions, script_of
from sinkbowl_post.filming.single import CUTAWAY, SingleScene
from sinkbowl_post.filming.tracers import drift
from sinkbowl_post.filming.view import QUANTITIES, TILT, cell_centres
from sinkbowl_post.style import AIR, water_map
from synthetic import HEIGHT, RADIUS, write_faster_result, write_result

REACH, HALF, ROWS = 0.1, 250, 400
PIXEL = REACH / HALF
WINDOW = Window(REACH, -0.08 / np.cos(TILT), (ROWS * PIXEL - 0.08) / np.cos(TILT), 2 * HALF, ROWS)
CUP = np.array([(0.0, 0.0), (0.05, 0.0), (0.05, 0.06), (0.046, 0.06), (0.046, 0.004), (0.0, 0.004)])
FLOAT = 0.03  # draft of the cup [m]
STRAIN = 3.0  # 1/s
R_F, Z_F = np.linspace(0.0, 0.1, 41), np.linspace(-0.1, 0.1, 61)
OUTLINE = np.array([(0.01, 0.0), (0.05, 0.0), (0.05, 0.06), (0.01, 0.06)])
PATIENCE = 120.0  # s, for a busy machine


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


class StrainedFrames:
    """Frames of the axisymmetric strain u_r = s r / 2, u_z = -s z, seen by a sinking bowl."""

    def __init__(self, t: np.ndarray, speed: float, wet_above: float = -1.0) -> None:
        self.t, self.speed, self.draft = t, np.full(len(t), speed), speed * t
        self._wet_above = wet_above

    def __len__(self) -> int:
        return len(self.t)

    def fields(self, k: int, names: tuple[str, ...]) -> dict[str, np.ndarray]:
        r, z = np.meshgrid((R_F[1:] + R_F[:-1]) / 2, (Z_F[1:] + Z_F[:-1]) / 2, indexing="ij")
        upward = -STRAIN * z - self.speed[k]  # laboratory: the bowl goes down with `speed`
        wet = (z > self._wet_above).astype(float)
        return {"u_r": 0.5 * STRAIN * r, "u_z": upward, "volume_fraction": wet}


def strained(t: np.ndarray, speed: float = 0.0, wet_above: float = -1.0) -> Any:
    grid = {"r_f": R_F, "z_f": Z_F, "outline": OUTLINE}
    return SimpleNamespace(grid=grid, frames=StrainedFrames(t, speed, wet_above))


@pytest.mark.parametrize("speed", [0.0, 0.4])
def test_specks_follow_the_exact_paths_of_a_straining_flow(speed):
    """From first principles: r = r_0 exp(s t / 2), z = z_0 exp(-s t) in the bowl's frame."""
    t = np.linspace(0.0, 0.1, 6)
    told = drift(strained(t, speed), range(6), reach=0.05)
    start, end = told[0], told[-1]
    assert len(start) == len(end)
    inside = (np.abs(start[:, 1]) < 0.095) & (end[:, 0] > 0.003) & (end[:, 0] < 0.095)
    exact = start * np.exp([0.5 * STRAIN * t[-1], -STRAIN * t[-1]])
    assert np.abs(end - exact)[inside].max() < 2e-5


def test_specks_that_come_into_air_are_gone():
    t = np.linspace(0.0, 0.2, 5)
    start = drift(strained(t), range(5), 0.05)[0]
    told = drift(strained(t, wet_above=0.0), range(5), 0.05)
    assert 0 < len(told[0]) < len(start)
    assert told[0][:, 1].min() > -np.diff(Z_F)[0]


def test_every_film_has_the_same_specks():
    a, b = (drift(strained(np.array([0.0])), [0], 0.05)[0] for _ in range(2))
    assert np.array_equal(a, b)


def test_vorticity_of_rigid_shear_is_its_rate():
    """From first principles: u_r = w z has the vorticity w everywhere."""
    result = strained(np.array([0.0]))
    r, z = cell_centres(result)
    fields = {"u_r": (7.0 * z + 0.0 * r[:, None]), "u_z": np.zeros((len(r), len(z)))}
    assert QUANTITIES["vorticity"].of(fields, (r, z)) == pytest.approx(7.0, rel=1e-5)


@pytest.mark.slow
@pytest.mark.parametrize("runs", [1, 2])
def test_two_processes_draw_the_same_bytes_as_one(tmp_path, runs):
    results = [
        read_result(write_result(tmp_path / "a.h5", frames=4)),
        read_result(write_faster_result(tmp_path / "b.h5", "35 mm", 1.5, frames=4)),
    ]
    wishes = FilmOptions("vorticity", tracers=True, model="heave", half_cut=True)
    script = script_of(results[:runs], wishes)
    instants = [0, 1, 3]
    alone = [(k, pixels.tobytes()) for k, pixels in draw_frames(script, instants, 1)]
    together = [(k, pixels.tobytes()) for k, pixels in draw_frames(script, instants, 2)]
    assert [k for k, _ in alone] == instants
    assert alone == together
    assert len({pixels for _, pixels in alone}) == len(instants)


@pytest.mark.slow
def test_frames_come_in_the_films_order_though_more_are_drawn_ahead(tmp_path):
    script = script_of(
        [read_result(write_result(tmp_path / "a.h5", frames=9))], FilmOptions("none")
    )
    drawn = [(k, np.array(pixels)) for k, pixels in draw_frames(script, range(9), 2)]
    assert [k for k, _ in drawn] == list(range(9))
    assert len({pixels.tobytes() for _, pixels in drawn}) == 9


@pytest.mark.slow
def test_ctrl_c_ends_every_process_and_leaves_no_file(tmp_path):
    write_result(tmp_path / "run.h5", frames=300)
    (tmp_path / "out").mkdir()
    wishes = ("--half-cut", "--workers", "2")
    film = subprocess.Popen(
        started("film", tmp_path / "run.h5", "-o", tmp_path / "out/film.mp4", *wishes),
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        begun = time.monotonic()
        while not _bytes_written(tmp_path / "out"):
            assert film.poll() is None, film.stderr.read() if film.stderr else ""
            assert time.monotonic() - begun < PATIENCE
            time.sleep(0.1)
        children = psutil.Process(film.pid).children(recursive=True)
        assert len(children) >= 3  # two that draw, one that encodes
        os.killpg(film.pid, signal.SIGINT)  # as a terminal does
        _, said = film.communicate(timeout=PATIENCE)
    finally:
        if film.poll() is None:
            os.killpg(film.pid, signal.SIGKILL)
    assert film.returncode == 1
    assert last_line(said, "film, ") == "sinkbowl: stopped by hand"
    assert list((tmp_path / "out").iterdir()) == []
    _, alive = psutil.wait_procs(children, timeout=10)
    assert alive == []


def _bytes_written(folder: Path) -> int:
    """Size of what lies in the hidden folder aside."""
    return sum(file.stat().st_size for file in folder.rglob("film.mp4"))
