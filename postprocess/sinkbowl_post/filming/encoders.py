"""Files that a film is written to: MP4, GIF, and a still picture for paper and slides."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Collection
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

import imageio_ffmpeg
import numpy as np
from PIL import Image

from sinkbowl_post.filming.clock import FRAMES_PER_SECOND
from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.filming.stage import SIZE

LAST_FRAME_HOLDS = 1.6  # s
GIF_SHRINK = 3  # the GIF's pixels are this many of the film's, each way
GIF_COLOURS = 160
GIF_SAMPLES = 6
DITHER = Image.Dither.NONE
GIF_MOST_FRAMES = 80


class Encoder(Protocol):
    """Takes the film's frames that it wants, in their order; a context manager that ends the file.

    Attributes
    ----------
    wanted : numbers of the frames that it takes
    """

    wanted: Collection[int]

    def __enter__(self) -> Self: ...
    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None: ...
    def add(self, pixels: Pixels) -> None:
        """Take the next frame (height, width, 3)."""
        ...


class Mp4:
    """H.264 in an MP4 file, playable by any browser or slide program."""

    def __init__(self, path: Path, frames: int) -> None:
        self.wanted: Collection[int] = range(frames)
        self._pipe = imageio_ffmpeg.write_frames(
            str(path),
            SIZE,
            pix_fmt_in="rgba",
            fps=FRAMES_PER_SECOND,
            macro_block_size=2,
            quality=None,
            output_params=["-preset", "veryfast", "-crf", "20", "-movflags", "+faststart"],
            ffmpeg_log_level="quiet",
        )
        self._last: Pixels | None = None
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        return self

    def add(self, pixels: Pixels) -> None:
        """Hand the next frame to the encoder."""
        if self._last is None:
            self._pipe.send(None)  # starts the encoder
            self._process = self._pipe.gi_frame.f_locals.get("p")
        self._last = pixels
        self._pipe.send(pixels)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if kind is None and self._last is not None:
                for _ in range(round(LAST_FRAME_HOLDS * FRAMES_PER_SECOND)):
                    self._pipe.send(self._last)
        finally:
            self._pipe.close()
            # imageio_ffmpeg leaves the pipe to an encoder open that ended by itself (disk full).
            if self._process is not None and self._process.stdin is not None:
                with suppress(OSError):
                    self._process.stdin.close()


class Gif:
    """A smaller, endlessly repeating picture for a web page; long films lose every second frame."""

    def __init__(self, path: Path, frames: int) -> None:
        self._path = path
        self._every = -(-frames // GIF_MOST_FRAMES)
        self.wanted: Collection[int] = range(0, frames, self._every)
        self._pictures: list[Image.Image] = []

    def __enter__(self) -> Self:
        return self

    def add(self, pixels: Pixels) -> None:
        """Keep the next frame, smaller; the palette needs all of them."""
        self._pictures.append(Image.fromarray(pixels).convert("RGB").reduce(GIF_SHRINK))

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


class Still:
    """The picture from the middle of the film."""

    def __init__(self, path: Path, frames: int) -> None:
        self._path = path
        self.wanted: Collection[int] = (frames // 2,)

    def __enter__(self) -> Self:
        return self

    def add(self, pixels: Pixels) -> None:
        """Write the one frame."""
        Image.fromarray(pixels).convert("RGB").save(self._path)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """The file is whole as soon as its picture is written."""


ENCODERS: dict[str, Callable[[Path, int], Encoder]] = {".mp4": Mp4, ".gif": Gif, ".png": Still}
"""What writes a film, by the suffix of the file name."""
