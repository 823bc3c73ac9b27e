"""Several bowls in one film: one scale, one clock, each under the name of its hole."""

from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from sinkbowl.case.case import parse_case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.cli import main
from sinkbowl_post.filming.film import film
from sinkbowl_post.filming.row import HEIGHT, RowScene, boxes_of, names_of
from sinkbowl_post.filming.script import (
    FRAMES_PER_SECOND,
    MOST_FRAMES,
    FilmOptions,
    common_clock,
    script_of,
)
from sinkbowl_post.filming.stage import SIZE
from sinkbowl_post.style import MATERIALS
from synthetic import RADIUS, WALL, filling, write_faster_result, write_result

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


def test_a_run_without_frames_among_others_is_named(pair, tmp_path):
    empty = read_result(write_result(tmp_path / "empty.h5", frames=0))
    with pytest.raises(ResultError, match=r"empty\.h5: has no frames"):
        film([pair[0], empty], [tmp_path / "film.mp4"])


def test_a_file_that_is_no_result_is_named(pair, tmp_path, capsys):
    (tmp_path / "cup.toml").write_text("title = 'no result'", encoding="utf-8")
    arguments = ["film", str(pair[0].path), str(tmp_path / "cup.toml")]
    with pytest.raises(SystemExit) as end:
        main([*arguments, "-o", str(tmp_path / "film.mp4")])
    assert end.value.code == 2
    assert "cup.toml: is not a sinkbowl result" in capsys.readouterr().err
    assert not (tmp_path / "film.mp4").exists()
