"""The film shows what the fields say: levels, volumes and the bowl at their true places."""

import subprocess

import imageio_ffmpeg
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from sinkbowl.bowl.ballast import Ring
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.drawing import result_solids
from sinkbowl_post.filming.captions import pace_words, signed_millimetres
from sinkbowl_post.filming.film import GIF_MOST_FRAMES, LAST_FRAME_HOLDS, film
from sinkbowl_post.filming.picture import (
    EDGE_WIDTH,
    Blend,
    Painter,
    Window,
    closed_air,
    palette_of,
    rgb,
    spread,
    tinted,
)
from sinkbowl_post.filming.script import (
    FRAMES_PER_SECOND,
    FilmOptions,
    common_clock,
    script_of,
    shown_frames,
)
from sinkbowl_post.filming.single import CUTAWAY, SingleScene
from sinkbowl_post.filming.stage import DPI, SIZE
from sinkbowl_post.filming.view import View
from sinkbowl_post.style import AIR, CLOSED_AIR, MATERIALS, PAPER, water_map
from synthetic import CASE_TEXT, HEIGHT, RADIUS, edited, filling, write_result

STEEL = MATERIALS["steel"][0]


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("film") / "run.h5", frames=5))


def graded(n: int, low: float, high: float) -> np.ndarray:
    s = np.linspace(0, 1, n + 1)
    return low + (high - low) * (0.5 * s + 0.5 * s**2)


def still_painter(window: Window, nr: int = 40, nz: int = 60) -> tuple[Painter, np.ndarray]:
    r_f, z_f = graded(nr, 0.0, 0.1), graded(nz, -0.1, 0.1)
    open_fraction = np.ones((nr, nz))
    palette = palette_of(water_map("speed"))
    return Painter(r_f, z_f, open_fraction, window, palette, 1.0), z_f


def share_of_water(picture: np.ndarray) -> np.ndarray:
    """How much of each pixel is not the colour of air, 0 or 1, the edge line counted as half."""
    away = np.abs(picture[..., :3].astype(int) - np.round(np.array(to_rgb(AIR)) * 255)).sum(axis=2)
    return (away > 6).astype(float)


def test_interpolation_between_cell_centres_is_exact_for_a_slope():
    centres = np.array([0.0, 0.1, 0.3, 0.7])
    at = np.linspace(0.0, 0.7, 29)
    field = (2 + 3 * centres).astype(np.float32)[:, None]
    assert Blend.between(centres, at).rows_of(field)[:, 0] == pytest.approx(2 + 3 * at, rel=1e-6)


@pytest.mark.parametrize("level", [-0.03, 0.0011, 0.0234])
def test_a_flat_level_stands_at_its_height(level):
    """Within 0.1 of a cell: between a full cell and one filled to F < 1/2 the contour is off by
    0.5 / (1 - F) - 0.5 - F of a uniform cell, 0.086 at most; and one pixel for the edge line."""
    window = Window(reach=0.08, bottom=-0.08, top=0.08, columns=320, rows=320)
    painter, z_f = still_painter(window)
    fraction = np.clip((level - z_f[:-1]) / np.diff(z_f), 0, 1) * np.ones((40, 1))
    picture = painter.paint(fraction.astype(np.float32), np.zeros((40, 60), np.float32), 0.0)
    row = int(np.flatnonzero(share_of_water(picture)[:, 200])[0])
    seen = window.top - (row + 1) * 0.16 / 320  # the edge line reaches one pixel up
    cell = float(np.diff(z_f)[np.searchsorted(z_f, level) - 1])
    assert abs(seen - level) < 0.1 * cell + 2 * 0.16 / 320, f"{seen:.5f} against {level:.5f}"


def test_a_ball_of_water_shows_its_true_section():
    """Area of the section against pi a^2; fractions by sub-sampling 16 x 16 points a cell."""
    window = Window(reach=0.06, bottom=-0.06, top=0.06, columns=480, rows=480)
    painter, z_f = still_painter(window, 80, 120)
    r_f, a = graded(80, 0.0, 0.1), 0.04
    sub = (np.arange(16) + 0.5) / 16
    r = (r_f[:-1, None] + np.diff(r_f)[:, None] * sub).ravel()
    z = (graded(120, -0.1, 0.1)[:-1, None] + np.diff(z_f)[:, None] * sub).ravel()
    inside = (r[:, None] ** 2 + z[None, :] ** 2 < a**2).astype(float)
    fraction = inside.reshape(80, 16, 120, 16).mean(axis=(1, 3)).astype(np.float32)
    picture = painter.paint(fraction, np.zeros_like(fraction), 0.0)
    pixel = 0.12 / 480
    area = share_of_water(picture).sum() * pixel**2
    line = 2 * np.pi * a * EDGE_WIDTH / 2 * pixel  # half of the edge line lies outside
    assert area - line == pytest.approx(np.pi * a**2, rel=0.01)


def plain_scene(result: Result) -> SingleScene:
    return SingleScene(script_of([result], FilmOptions()))


def cutaway_of(pixels: np.ndarray) -> np.ndarray:
    left, top, width, height = CUTAWAY
    return pixels[top : top + height, left : left + width, :3]


def test_both_sides_of_the_axis_mirror_each_other(result):
    box, water = plain_scene(result)._cut.show(2)
    assert water.shape == (box.height, box.width, 4)
    assert np.array_equal(water, water[:, ::-1])


def test_faster_water_is_painted_lighter():
    window = Window(reach=0.08, bottom=-0.08, top=0.08, columns=64, rows=64)
    painter, _ = still_painter(window)
    water = np.ones((40, 60), np.float32)
    slow, fast = (painter.paint(water, 0 * water + speed, 0.0).sum() for speed in (0.1, 0.8))
    assert fast > slow


def test_the_still_surface_stays_and_the_bowl_moves_down_with_its_draft(result):
    window = View().window([result], CUTAWAY.width, CUTAWAY.height)
    pixel = 2 * window.reach / CUTAWAY.width
    scene = plain_scene(result)
    surfaces, rims = [], []
    for k in (0, 3):
        cut = cutaway_of(scene.draw(k))
        surfaces.append(int(np.flatnonzero(share_of_water(cut)[:, 8])[0]))
        wall = CUTAWAY.width // 2 + round((RADIUS - 0.001) / pixel)
        steel = np.abs(cut[:, wall].astype(int) - np.array(to_rgb(STEEL)) * 255).sum(axis=1) < 12
        rims.append(int(np.flatnonzero(steel)[0]))
    cell = float(np.diff(result.grid["z_f"]).max())  # the contour's own bound: see the still level
    assert abs(surfaces[0] - surfaces[1]) <= 1 + 0.1 * cell / pixel
    sunk = float(result.frames.draft[3] - result.frames.draft[0])
    assert (rims[1] - rims[0]) * pixel == pytest.approx(sunk, abs=1.5 * pixel)
    edge = 1.6 * DPI / 72 + 1  # px: the dark line around the solid hides its first rows
    assert rims[0] * pixel == pytest.approx(
        window.top - (HEIGHT - result.frames.draft[0]), abs=edge * pixel
    )


@pytest.mark.parametrize("older", [False, True])
def test_the_tub_s_floor_stands_at_its_depth(older, tmp_path):
    """65 mm under the still surface in all frames; below it paper, in deep tubs water. Older files
    say it in the case's text alone."""
    path = write_result(tmp_path / "run.h5", frames=5)
    with edited(path) as file:
        if older:
            file.attrs["case_text"] = f'{CASE_TEXT}[flow]\ntub_depth = "65 mm"\n'
        else:
            file.attrs["tub_depth_m"] = 0.065
    result = read_result(path)
    window = View().window([result], CUTAWAY.width, CUTAWAY.height)
    pixel = 2 * window.reach / CUTAWAY.width
    scene = plain_scene(result)
    for k in (0, 3):
        column = cutaway_of(scene.draw(k))[:, 8].astype(int)
        paper = np.abs(column - np.round(np.array(to_rgb(PAPER)) * 255)).sum(axis=1) < 6
        top = len(paper) - int(np.argmin(paper[::-1]))
        line = 1.6 * DPI / 72 / 2 + 1  # px: half of the line lies under the floor
        assert (top - line) * pixel == pytest.approx(window.top + 0.065, abs=2 * pixel)
        assert not paper[: top - 8].any()


@pytest.mark.parametrize("older", [False, True])
def test_the_ring_is_drawn_as_the_case_has_it(older, tmp_path):
    """Its outline from the file, or of older files from the case; Pappus for its area. A polygon of
    n corners has sin(2 pi/n)/(2 pi/n) of its circle's area, 0.997 for 48."""
    ring = Ring(mass=0.05, radius=0.03, height=-0.004, density=8500.0)
    path = write_result(tmp_path / "run.h5", frames=2)
    with edited(path) as file:
        del file["grid/ballast_outline"]
        if older:
            text = 'mass = "50 g"\nradius = "30 mm"\nheight = "-4 mm"\ndensity = "8500 kg/m^3"\n'
            file.attrs["case_text"] = f"{CASE_TEXT}[ballast]\n{text}"
        else:
            file.attrs["case_text"], file["grid/ballast_outline"] = "gone", ring.outline
    result = read_result(path)
    bowl, section = (solid.outline for solid in result_solids(result))
    assert np.array_equal(bowl, result.grid["outline"])
    r, z = section.T
    area = 0.5 * float(np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z))
    assert area == pytest.approx(0.9971 * ring.volume / (2.0 * np.pi * ring.radius), rel=1e-4)
    assert View().window([result], 400, 300).bottom < float(z.min() - result.frames.draft.max())


def test_water_carries_on_under_the_wall_from_the_nearest_open_cells():
    known = np.array([[True, True, False, False, True]])
    field = np.array([[1, 1, 9, 9, 0]], np.float32)
    assert spread(field, known).tolist() == [[1, 1, 1, 0, 0]]


def test_the_window_holds_the_bowl_from_start_to_end(result):
    window = View().window([result], CUTAWAY.width, CUTAWAY.height)
    assert window.reach > RADIUS
    assert window.top > HEIGHT - result.frames.draft[0]
    assert window.bottom < -result.frames.draft[-1]
    assert (window.top - window.bottom) / window.rows == pytest.approx(
        2 * window.reach / window.columns
    )


def test_mp4_plays_every_frame_at_1920_by_1080(result, tmp_path):
    path = tmp_path / "film.mp4"
    seen: list[tuple[int, int]] = []
    film([result], [path], progress=lambda done, total: seen.append((done, total)))
    decoder = [imageio_ffmpeg.get_ffmpeg_exe(), "-i", str(path)]
    decoder += ["-f", "rawvideo", "-pix_fmt", "gray", "-"]
    played = subprocess.run(decoder, capture_output=True, check=True)
    assert SIZE == (1920, 1080)
    assert b"h264" in played.stderr
    assert b"1920x1080" in played.stderr
    assert f"{FRAMES_PER_SECOND} fps".encode() in played.stderr
    pictures = 5 + round(LAST_FRAME_HOLDS * FRAMES_PER_SECOND)
    assert len(played.stdout) == pictures * 1920 * 1080
    assert seen == [(k, 5) for k in range(1, 6)]


def test_gif_has_every_frame_of_a_short_film_and_repeats(result, tmp_path):
    path = tmp_path / "film.gif"
    film([result], [path], colour="pressure")
    with Image.open(path) as opened:
        assert opened.size == (640, 360)
        assert opened.n_frames == 5
        assert opened.info["loop"] == 0


@pytest.mark.slow
def test_a_long_gif_takes_every_second_frame_and_only_those_are_drawn(tmp_path):
    count = GIF_MOST_FRAMES + 2
    long = read_result(write_result(tmp_path / "run.h5", frames=count, cells=(20, 30)))
    seen: list[tuple[int, int]] = []
    film([long], [tmp_path / "film.gif"], progress=lambda *at: seen.append(at), workers=1)
    assert seen[-1] == (count // 2, count // 2)
    with Image.open(tmp_path / "film.gif") as opened:
        assert opened.n_frames == count // 2
        assert opened.info["duration"] == 2 * 1000 // FRAMES_PER_SECOND


def test_the_still_is_the_frame_in_the_middle(result, tmp_path):
    film([result], [tmp_path / "still.png"])
    with Image.open(tmp_path / "still.png") as still:
        assert np.array_equal(np.asarray(still), plain_scene(result).draw(2)[..., :3])


def test_an_interrupted_film_leaves_no_file(result, tmp_path):
    def stop(done: int, total: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        film([result], [tmp_path / "film.mp4", tmp_path / "film.gif"], progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_the_caption_counts_how_much_slower_than_life_the_film_runs(result):
    """Five frames over the whole filling, shown at 25 a second: the film is faster than life."""
    assert common_clock([result.frames]).slowness == pytest.approx(4 / 25 / filling(200).t[-1])


@pytest.mark.parametrize(("stored", "shown"), [(1, 1), (150, 150), (300, 300), (528, 265)])
def test_a_very_long_film_goes_in_larger_steps_to_the_last_frame(stored, shown):
    frames = shown_frames(stored)
    assert len(frames) == shown
    assert (frames[0], frames[-1]) == (0, stored - 1)


def test_a_film_of_a_run_in_progress_shows_what_there_is(tmp_path):
    running = read_result(write_result(tmp_path / "run.h5", frames=2, status="running"))
    film([running], [tmp_path / "film.gif"])
    assert (tmp_path / "film.gif").stat().st_size > 1000


@pytest.mark.parametrize(
    ("name", "colour", "message"),
    [
        ("film.avi", "speed", r"ends in \.mp4 or \.gif or \.png"),
        ("none/film.mp4", "speed", "folder .* does not exist"),
        ("film.mp4", "red", "none of speed, pressure"),
    ],
)
def test_wrong_wishes_are_refused_before_any_work(result, tmp_path, name, colour, message):
    with pytest.raises(ResultError, match=message):
        film([result], [tmp_path / name], colour=colour)
    assert list(tmp_path.iterdir()) == []


def test_a_film_says_how_it_runs_against_life_and_heights_with_their_sign():
    said = {1.0: "in real time", 1.12: "slowed down 1.1 times", 0.5: "sped up 2 times"}
    assert {slowness: pace_words(slowness) for slowness in said} == said
    assert [signed_millimetres(z) for z in (0.02, -1e-9, -0.04)] == ["+20", "0", "\u221240"]


def test_air_that_no_path_joins_to_the_top_is_tinted():
    """A ring of air under water, open air above, and a bubble of fewer cells than count."""
    fraction = np.ones((40, 60), np.float32)
    fraction[:, 50:] = 0.0
    fraction[10:15, 10:15] = 0.0
    fraction[30, 30] = 0.0
    closed = closed_air(fraction, np.ones_like(fraction, dtype=bool))
    assert closed.sum() == 25
    assert closed[10:15, 10:15].all()
    pixel = tinted(np.zeros((1, 1, 4), np.uint8), np.full((1, 1), 1.0, np.float32))
    assert tuple(pixel[0, 0, :3]) == tuple(rgb(CLOSED_AIR).astype(np.uint8))
