"""`sinkbowl trace`: clips drawn with a known depth, spoilt as a camera at a tub spoils them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from clips import (
    FRAMES_A_SECOND,
    HEIGHT,
    RELEASE,
    RIM_HEIGHT,
    WIDTH,
    Faults,
    draft_at,
    frame_at,
    marks_for,
    write_clip,
    write_frames,
)
from console import call
from sinkbowl.common.errors import CaseError
from sinkbowl.files.result import read_result
from sinkbowl_post.filming.film import film
from sinkbowl_post.measured.measured import Trace, read_measured
from sinkbowl_post.tracing.trace import ClipTrace, trace
from synthetic import write_result

TIME = 0.45
DEPTH = 0.3e-3  # m: a pixel and a fifth of these clips
HALF_A_FRAME = 0.5
FAULTS = {
    "clean": Faults(),
    "noisy": Faults(noise=12.0),
    "blurred": Faults(blur=2.5),
    "tilted": Faults(tilt=4.0),
    "splashed": Faults(splash=True),
    "compressed": Faults(crf=28),
    "bright bowl": Faults(bright_bowl=True),
    "all at once": Faults(noise=6.0, blur=1.6, tilt=-3.0, splash=True, crf=26),
}


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_clip(tmp_path_factory.mktemp("clips") / "clean.mp4", TIME)


def traced(clip: Path, tilt: float = 0.0, **more: object) -> ClipTrace:
    return trace(clip, **(marks_for(tilt) | more))  # type: ignore[arg-type]


def miss(found: ClipTrace) -> np.ndarray:
    """Depth less the one drawn, by the clip's own clock [m]."""
    since = (found.course.frame - RELEASE) / FRAMES_A_SECOND
    return np.asarray(found.course.draft - draft_at(since, TIME))


@pytest.mark.parametrize("spoilt", FAULTS)
def test_depth_and_time_are_those_that_were_drawn(spoilt: str, tmp_path: Path) -> None:
    """Drawn with draft(t) in closed form: depth within 0.3 mm, time within half a frame."""
    faults = FAULTS[spoilt]
    found = traced(write_clip(tmp_path / "clip.mp4", TIME, faults), faults.tilt)
    worst = float(np.abs(miss(found)).max())
    assert found.course.under is not None
    late = (found.course.under - TIME) * FRAMES_A_SECOND
    begun = found.course.released - RELEASE
    print(f"{spoilt}: depth {worst * 1e3:.3f} mm, time {late:+.2f}, release {begun:+.2f} frames")
    assert worst < DEPTH
    assert abs(late) < HALF_A_FRAME
    assert abs(begun) < HALF_A_FRAME


@pytest.mark.slow
def test_our_own_film_gives_back_the_draft_that_it_shows(tmp_path: Path) -> None:
    """A film of a made-up result against the history in it; its wall has a dark outline.

    Pixels read off the still; the film shows a stored frame each 1/25 s, one a frame.
    """
    result = read_result(write_result(tmp_path / "cup.h5", frames=60))
    film(result, tmp_path / "cup.mp4")
    t, draft = result.history["t"], result.history["draft"]
    found = trace(
        tmp_path / "cup.mp4",
        line="317,185:317,600",
        length="311,600:933,600 = 100 mm",
        water=472.0,
        rim_height=60e-3,
        release=0,
        rate=59.0 / float(t[-1]),
    )
    course = found.course
    worst = float(np.abs(course.draft - np.interp(course.t, t, draft)).max())
    assert course.under is not None
    late = (course.under - float(t[-1])) * course.rate
    print(f"own film: depth {worst * 1e3:.3f} mm, time {late:+.2f} frames")
    assert worst < DEPTH
    assert abs(late) < HALF_A_FRAME


def test_behind_a_splash_the_uncertainty_is_wider_and_holds(tmp_path: Path) -> None:
    found = traced(write_clip(tmp_path / "clip.mp4", TIME, Faults(splash=True)))
    course = found.course
    assert 5 <= np.count_nonzero(~course.seen) <= 12
    assert course.draft_uncertainty[~course.seen].max() > 1.5 * course.draft_uncertainty.min()
    assert np.all(np.abs(miss(found)) < 3.0 * course.draft_uncertainty)
    assert "hidden and is bridged" in repr(found)


def test_the_table_is_one_that_compare_and_fit_read(clean: Path, tmp_path: Path) -> None:
    found = traced(clean)
    for name, comma in (("point.csv", False), ("comma.csv", True)):
        found.save(tmp_path / name, comma)
        read = read_measured(tmp_path / name)
        assert isinstance(read, Trace)
        assert read.draft_uncertainty is not None
        assert read.draft[-1] >= RIM_HEIGHT  # where compare reads the sinking time
        assert read.t[-1] == pytest.approx(found.course.under, abs=1e-6)
        assert np.allclose(read.draft[:-1], found.course.draft, atol=1e-7)


def test_a_clip_that_plays_slowly_is_told_its_frames_a_second(clean: Path) -> None:
    slow, usual = traced(clean, rate=8 * FRAMES_A_SECOND), traced(clean)
    assert slow.course.under == pytest.approx((usual.course.under or 0.0) / 8)


def test_a_named_frame_of_release_is_time_zero(clean: Path) -> None:
    found = traced(clean, release=14)
    assert found.course.released == 14.0
    assert 14.0 + (found.course.under or 0.0) * FRAMES_A_SECOND == pytest.approx(
        RELEASE + TIME * FRAMES_A_SECOND, abs=HALF_A_FRAME
    )


def test_a_clip_that_begins_too_late_asks_for_the_release(tmp_path: Path) -> None:
    draw, clip = np.random.default_rng(7), tmp_path / "late.mp4"
    write_frames(clip, (frame_at(k, TIME, Faults(), draw) for k in range(20, 84)))
    with pytest.raises(CaseError, match="moves from the beginning"):
        traced(clip)


def test_a_clip_that_ends_too_early_says_from_when(tmp_path: Path) -> None:
    found = traced(write_clip(tmp_path / "short.mp4", TIME, frames=45))
    assert found.course.under is None
    assert found.course.lost == pytest.approx((45 - RELEASE) / FRAMES_A_SECOND, abs=0.05)
    assert "could not be followed from" in repr(found)


@pytest.mark.parametrize("kind", ["grey", "noise", "still bowl"])
def test_a_clip_without_an_edge_that_leaves_is_refused(kind: str, tmp_path: Path) -> None:
    draw = np.random.default_rng(1)
    flat = np.full((HEIGHT, WIDTH), 120.0)
    bowl = np.where(np.arange(HEIGHT)[:, None] > 200, 60.0, flat)
    pictures = {
        "grey": lambda: flat,
        "noise": lambda: flat + 20.0 * draw.standard_normal(flat.shape),
        "still bowl": lambda: bowl,
    }[kind]
    clip = tmp_path / "none.mp4"
    write_frames(clip, (pictures() for _ in range(40)))
    with pytest.raises(CaseError, match="edge"):
        traced(clip)


@pytest.mark.parametrize("content", [b"", b"no clip at all", b"#EXTM3U\n#EXTINF:1,\nother.ts\n"])
def test_what_is_no_clip_is_refused_in_a_sentence(content: bytes, tmp_path: Path) -> None:
    """A list of other files is not followed, either."""
    (tmp_path / "clip.mp4").write_bytes(content)
    with pytest.raises(CaseError, match="no clip that can be read"):
        traced(tmp_path / "clip.mp4")


def test_a_list_of_clips_is_not_opened(clean: Path, tmp_path: Path) -> None:
    (tmp_path / "in.mp4").write_bytes(clean.read_bytes())
    (tmp_path / "clip.mp4").write_text("ffconcat version 1.0\nfile in.mp4\n", encoding="utf-8")
    with pytest.raises(CaseError, match="no clip that can be read"):
        traced(tmp_path / "clip.mp4")


def test_a_clip_too_long_is_refused(clean: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sinkbowl_post.tracing.streak.LARGEST", 321 * 20)
    with pytest.raises(CaseError, match="too long for a line of 321 pixels"):
        traced(clean)


def test_a_clip_cut_off_is_read_as_far_as_it_goes_or_refused(clean: Path, tmp_path: Path) -> None:
    whole = clean.read_bytes()
    for share in (0.1, 0.5, 0.9):
        cut = tmp_path / "cut.mp4"
        cut.write_bytes(whole[: int(share * len(whole))])
        with pytest.raises(CaseError):  # the index of an MP4 stands at its end
            traced(cut)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"line": "120,60"}, "two points"),
        ({"line": "120,380:120,60"}, "does not run downwards"),
        ({"line": "120,60:120,900"}, "outside the picture"),
        ({"length": "60,100:60,340"}, "how long"),
        ({"length": "60,100:60,340 = 60 s"}, "--length"),
        ({"length": "60,100:60,105 = 1 mm"}, "shorter than"),
        ({"water": 390.0}, "does not cut the line"),
        ({"water": float("nan")}, "does not cut the line"),
        ({"release": 900}, "outside the clip"),
    ],
)
def test_words_that_say_nothing_are_refused(
    changed: dict[str, object], told: str, clean: Path
) -> None:
    with pytest.raises(CaseError, match=told):
        traced(clean, **changed)


def test_without_a_line_it_draws_a_still_and_says_what_to_name(
    clean: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call("trace", clean) == 0
    told = capsys.readouterr().out
    assert (tmp_path / "clean-still.png").stat().st_size > 10_000
    for option in ("--line", "--length", "--water", "--rim-height", "--fps", "battery"):
        assert option in told


def test_the_command_writes_table_and_picture_and_the_caution(
    clean: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    marks = marks_for()
    words = ["--line", marks["line"], "--length", marks["length"], "--water", marks["water"]]
    table, picture = tmp_path / "trace.csv", tmp_path / "trace.png"
    out = ["-o", table, "--figure", picture]
    assert call("trace", clean, *words, "--rim-height", "60 mm", *out) == 0
    assert table.is_file()
    assert picture.stat().st_size > 10_000
    assert "mains lead" in capsys.readouterr().out
    assert call("trace", clean, *words) == 2
    assert "--rim-height" in capsys.readouterr().err
