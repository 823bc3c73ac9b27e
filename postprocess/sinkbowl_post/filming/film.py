"""Film of one or several runs: each frame is drawn once for all files, MP4, GIF or a still picture.

An encoder is a context manager of a function that takes the next frame; the file is whole where the
block has ended without an error.
"""

import subprocess
from collections.abc import Callable, Collection, Generator, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager, suppress
from pathlib import Path
from typing import Any, NamedTuple

import imageio_ffmpeg
import numpy as np
from PIL import Image

from sinkbowl.files.result import Result, read_result
from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.filming.rendering import draw_frames
from sinkbowl_post.filming.script import FRAMES_PER_SECOND, FilmOptions, script_of
from sinkbowl_post.filming.stage import SIZE
from sinkbowl_post.output import checked_outputs, written_aside

LAST_FRAME_HOLDS = 1.6  # s
GIF_SHRINK = 3  # the GIF's pixels are this many of the film's, each way
GIF_COLOURS = 160
GIF_SAMPLES = 6
DITHER = Image.Dither.NONE
GIF_MOST_FRAMES = 80

Add = Callable[[Pixels], Any]  # takes the next frame (height, width, 4)


class Encoder(NamedTuple):
    """Which of so many frames a file takes, and how it is opened for them."""

    wanted: Callable[[int], Collection[int]]
    opened: Callable[[Path, int], AbstractContextManager[Add]]


@contextmanager
def mp4(path: Path, frames: int) -> Iterator[Add]:
    """H.264 in an MP4 file, playable by any browser or slide program; the last frame stays."""
    stays = (
        f"format=yuv420p,tpad=stop_mode=clone:stop={round(LAST_FRAME_HOLDS * FRAMES_PER_SECOND)}"
    )
    coded = ("-preset", "veryfast", "-crf", "20", "-movflags", "+faststart")
    pipe = imageio_ffmpeg.write_frames(
        str(path),
        SIZE,
        pix_fmt_in="rgba",
        fps=FRAMES_PER_SECOND,
        macro_block_size=2,
        quality=None,
        output_params=["-vf", stays, *coded],
        ffmpeg_log_level="quiet",
    )
    process: subprocess.Popen[bytes] | None = None

    def add(pixels: Pixels) -> None:
        nonlocal process
        if process is None:
            pipe.send(None)  # starts the encoder
            process = pipe.gi_frame.f_locals.get("p")
        pipe.send(pixels)

    try:
        yield add
        _finish(pipe, process)
    finally:
        pipe.close()
        # imageio_ffmpeg does not close the pipe to an encoder that has ended (disk full).
        if process is not None and process.stdin is not None:
            with suppress(OSError):
                process.stdin.close()


def _finish(pipe: Generator[None, Pixels], process: subprocess.Popen[bytes] | None) -> None:
    """End the encoder; OSError if it could not write its file."""
    pipe.close()
    if process is not None and process.returncode:
        raise OSError(f"the encoder ended with status {process.returncode}")


@contextmanager
def gif(path: Path, frames: int) -> Iterator[Add]:
    """A smaller, endlessly repeating picture for a web page; its palette needs all frames."""
    pictures: list[Image.Image] = []
    yield lambda pixels: pictures.append(Image.fromarray(pixels).convert("RGB").reduce(GIF_SHRINK))
    if pictures:
        palette = _palette(pictures)
        durations = [1000 * _gif_frames(frames).step // FRAMES_PER_SECOND] * len(pictures)
        durations[-1] = round(LAST_FRAME_HOLDS * 1000)
        first, *rest = [p.quantize(palette=palette, dither=DITHER) for p in pictures]
        first.save(path, save_all=True, append_images=rest, duration=durations, loop=0)


def _gif_frames(frames: int) -> range:
    """Long films lose every second frame, or more."""
    return range(0, frames, -(-frames // GIF_MOST_FRAMES))


def _palette(pictures: list[Image.Image]) -> Image.Image:
    """Common colours of all pictures, from samples of some of them."""
    some = pictures[:: -(-len(pictures) // GIF_SAMPLES)]
    strip = np.concatenate([np.asarray(picture) for picture in some])
    return Image.fromarray(strip).quantize(GIF_COLOURS, Image.Quantize.MEDIANCUT)


@contextmanager
def still(path: Path, frames: int) -> Iterator[Add]:
    """The picture from the middle of the film."""
    yield lambda pixels: Image.fromarray(pixels).convert("RGB").save(path)


ENCODERS = {
    ".mp4": Encoder(range, mp4),
    ".gif": Encoder(_gif_frames, gif),
    ".png": Encoder(lambda frames: (frames // 2,), still),
}
"""Encoder by the suffix of the file name."""


def film(
    results: Result | str | Path | Sequence[Result | str | Path],
    outputs: str | Path | Sequence[str | Path],
    *,
    colour: str = "speed",
    tracers: bool = False,
    model: str | None = None,
    half_cut: bool = False,
    progress: Callable[[int, int], None] | None = None,
    workers: int | None = 1,
    heading: str | None = None,
) -> None:
    """Write a film, one picture per stored frame (of very many: every second, third ...).

    The files appear when complete: an error, or Ctrl-C, leaves none.

    Parameters
    ----------
    results : a run with frames, or its file, or up to four side by side; a run in progress or
        stopped gives the film so far
    outputs : file to write, or several, by suffix .mp4 (1920 x 1080), .gif (640 x 360) or .png
        (the picture in the middle of the film)
    colour : quantity that colours the water, "speed", "pressure", "vorticity" or "none"
    tracers : whether to show tracers
    model : reduced model whose levels are drawn, or None
    half_cut : whether to show half of water and bowl in three dimensions, from above
    progress : called with (frames drawn, frames in all)
    workers : number of processes; None: one per core, fewer for a short film. A script with several
        needs ``if __name__ == "__main__":`` around its work
    heading : of the film; None: default

    Raises ResultError for no frames, too many runs, an unknown suffix, colour or model, a missing
    folder.
    """
    paths = checked_outputs(outputs, tuple(ENCODERS))
    several = [results] if isinstance(results, Result | str | Path) else results
    runs = [read_result(one) for one in several]
    script = script_of(runs, FilmOptions(colour, tracers, model, half_cut, heading))
    count = len(script.clock)
    encoders = [ENCODERS[path.suffix.lower()] for path in paths]
    takes = [encoder.wanted(count) for encoder in encoders]
    wanted = sorted(set().union(*takes))
    with ExitStack() as stack:
        files = [stack.enter_context(written_aside(path.parent)) / path.name for path in paths]
        frames = stack.enter_context(closing(draw_frames(script, wanted, workers)))
        adds = [
            stack.enter_context(encoder.opened(file, count))
            for encoder, file in zip(encoders, files, strict=True)
        ]
        for done, (instant, pixels) in enumerate(frames, start=1):
            for add, taken in zip(adds, takes, strict=True):
                if instant in taken:
                    add(pixels)
            if progress:
                progress(done, len(wanted))
