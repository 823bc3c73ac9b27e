"""Cutaway film of one run as MP4 or GIF: every frame is drawn once and handed to all encoders."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

import imageio_ffmpeg
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sinkbowl.errors import ResultError
from sinkbowl.running.result import Result
from sinkbowl_post.film.quantity import QUANTITIES
from sinkbowl_post.film.scene import SIZE, Scene, window_for
from sinkbowl_post.film.tracers import drift
from sinkbowl_post.style import check_output

SUFFIXES = (".mp4", ".gif")
FRAMES_PER_SECOND = 25
MOST_FRAMES = 300  # a film of 12 s; a run with more frames is shown in larger steps
LAST_FRAME_HOLDS = 1.6  # s
GIF_SHRINK = 3  # the GIF's pixels are this many of the film's, each way
GIF_COLOURS = 160
GIF_SAMPLES = 6
DITHER = Image.Dither.NONE
GIF_MOST_FRAMES = 80

Pixels = NDArray[np.uint8]


class Encoder(Protocol):
    """Takes the film's frames one after the other; a context manager that closes the file."""

    def __enter__(self) -> Self: ...
    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None: ...
    def add(self, pixels: Pixels) -> None: ...


class Mp4:
    """H.264 in an MP4 file, playable by any browser or slide program."""

    def __init__(self, path: Path, frames: int) -> None:
        self._pipe = imageio_ffmpeg.write_frames(
            str(path),
            SIZE,
            pix_fmt_in="rgba",
            fps=FRAMES_PER_SECOND,
            macro_block_size=2,
            quality=None,
            output_params=["-preset", "veryfast", "-crf", "20", "-movflags", "+faststart"],
            ffmpeg_log_level="error",
        )
        self._last: Pixels | None = None

    def __enter__(self) -> Self:
        self._pipe.send(None)
        return self

    def add(self, pixels: Pixels) -> None:
        self._last = pixels
        self._pipe.send(pixels)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is None and self._last is not None:
            for _ in range(round(LAST_FRAME_HOLDS * FRAMES_PER_SECOND)):
                self._pipe.send(self._last)
        self._pipe.close()


class Gif:
    """A smaller, endlessly repeating picture for a web page; long films lose every second frame."""

    def __init__(self, path: Path, frames: int) -> None:
        self._path = path
        self._every = -(-frames // GIF_MOST_FRAMES)
        self._seen = 0
        self._pictures: list[Image.Image] = []

    def __enter__(self) -> Self:
        return self

    def add(self, pixels: Pixels) -> None:
        if self._seen % self._every == 0:
            small = Image.fromarray(pixels).convert("RGB").reduce(GIF_SHRINK)
            self._pictures.append(small)
        self._seen += 1

    def _palette(self) -> Image.Image:
        """Common colours of all pictures, found on a strip of some of them."""
        some = self._pictures[:: -(-len(self._pictures) // GIF_SAMPLES)]
        strip = np.concatenate([np.asarray(picture) for picture in some])
        return Image.fromarray(strip).quantize(GIF_COLOURS, Image.Quantize.MEDIANCUT)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None or not self._pictures:
            return
        each = 1000 * self._every // FRAMES_PER_SECOND
        durations = [each] * len(self._pictures)
        durations[-1] = round(LAST_FRAME_HOLDS * 1000)
        palette = self._palette()
        first, *rest = [p.quantize(palette=palette, dither=DITHER) for p in self._pictures]
        first.save(self._path, save_all=True, append_images=rest, duration=durations, loop=0)


ENCODERS: dict[str, Callable[[Path, int], Encoder]] = {".mp4": Mp4, ".gif": Gif}


def make_film(
    result: Result,
    outputs: str | Path | Sequence[str | Path],
    colour: str = "speed",
    progress: Callable[[int, int], None] | None = None,
    tracers: bool = False,
) -> None:
    """Write the film of a run, one picture a stored frame (of very many: every second, third ...).

    Parameters
    ----------
    result : a run with frames; one in progress or stopped gives the film so far
    outputs : file to write, or several, by suffix .mp4 (1920 x 1080) or .gif (640 x 360)
    colour : what colours the water, "speed", "pressure", "vorticity" or "none"
    progress : called with (frames drawn, frames in all)
    tracers : whether specks drift with the water

    Raises
    ------
    ResultError : no frames, an unknown suffix or colour, a missing folder
    """
    given = [outputs] if isinstance(outputs, str | Path) else outputs
    paths = [Path(output) for output in given]
    for path in paths:
        check_output(path, SUFFIXES)
    if colour not in QUANTITIES:
        raise ResultError(f"colour {colour!r} is none of {', '.join(QUANTITIES)}.")
    if len(result.frames) == 0:
        raise ResultError(f"{result.path}: holds no frames to film (status: {result.status}).")
    shown = shown_frames(len(result.frames))
    specks = {}
    if tracers:
        drifted = drift(result, shown, window_for(result).reach)
        specks = dict(zip(shown, drifted, strict=True))
    scene = Scene(result, colour, slowness(result.frames.t[shown]), specks)
    with ExitStack() as stack:
        encoders = [
            stack.enter_context(ENCODERS[path.suffix.lower()](path, len(shown))) for path in paths
        ]
        for done, k in enumerate(shown, start=1):
            _hand_out(scene.draw(k), encoders)
            if progress:
                progress(done, len(shown))


def shown_frames(stored: int) -> list[int]:
    """Frames that the film shows: evenly spaced, no more than MOST_FRAMES, and the last one."""
    step = -(-stored // MOST_FRAMES)
    return [*range(0, stored - 1, step), stored - 1]


def slowness(t: NDArray[np.float64]) -> float:
    """How many times slower than life a film of frames at the times t [s] runs."""
    if len(t) < 2:
        return 1.0
    return (len(t) - 1) / (FRAMES_PER_SECOND * float(t[-1] - t[0]))


def _hand_out(pixels: Pixels, encoders: Iterable[Encoder]) -> None:
    for encoder in encoders:
        encoder.add(pixels)
