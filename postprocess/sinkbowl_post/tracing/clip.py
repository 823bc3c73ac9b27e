"""Safe reading of clips: properties, and grey frames one at a time.

Clips are untrusted: FFmpeg may open only the file itself, and only in formats of cameras, no lists
of files or addresses.

Also the progress of the work on a clip, and its limit of a minute.
"""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import IO

import imageio_ffmpeg
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import CaseError

Grey = NDArray[np.uint8]

FORMATS = ("mov", "matroska", "webm", "avi", "mpegts", "mpeg", "asf", "flv", "ogg", "gif", "dv")
"""Formats of cameras and telephones, by FFmpeg's names (mov includes MP4)."""

LARGEST_PICTURE = 36_000_000  # maximum number of pixels per frame

HEAD = re.compile(rb"YUV4MPEG2 W(\d+) H(\d+) F(\d+):(\d+) ")
LONGEST_HEAD = 300

MOST_FRAMES = 50_000  # maximum number of frames: seven minutes at 120 per second
MOST_PIXELS = 20_000_000_000
"""Maximum of all frames: 80 s of 1920 x 1080 pixels at 120 frames per second."""
TOLD = re.compile(rb"Duration: (\d+):(\d\d):(\d\d\.\d+)")
LONGEST_TOLD = 65_536
SOON = 5.0  # time limit for reading the length of a clip [s]


@dataclass(frozen=True)
class Clip:
    """Properties of a clip.

    path : the file
    width, height : of an upright frame [pixels]
    rate : frames per second; None if unknown
    frames : approximate number of frames; None if unknown
    """

    path: Path
    width: int
    height: int
    rate: float | None
    frames: int | None


@contextmanager
def opened(path: Path, patience: Patience | None = None) -> Iterator[tuple[Clip, Iterator[Grey]]]:
    """A clip and its frames, (height, width) each, one at a time in memory.

    Raises CaseError for no such file, one not readable by FFmpeg, pictures or clip too large, or
    out of time.
    """
    patience = patience or Patience(path)
    if not path.is_file():
        raise CaseError("There is no such clip", file=path, allowed="Give a file from a camera.")
    pictures = ["-an", "-sn", "-dn", "-pix_fmt", "gray", "-f", "yuv4mpegpipe", "-"]
    lasts = _lasts(path)
    with _ffmpeg(path, "quiet", pictures, patience.left) as pipe:
        clip = _described(path, pipe, lasts)
        yield clip, _frames(clip, pipe, patience)


@contextmanager
def _ffmpeg(path: Path, tells: str, out: list[str], longest: float) -> Iterator[IO[bytes]]:
    """FFmpeg's output for a clip; it ends with the block, or after ``longest`` seconds."""
    command = [
        *(imageio_ffmpeg.get_ffmpeg_exe(), "-nostdin", "-hide_banner", "-loglevel", tells),
        *("-protocol_whitelist", "file", "-format_whitelist", ",".join(FORMATS)),
        *("-max_pixels", str(LARGEST_PICTURE), "-i", str(path.resolve()), *out),
    ]
    errors = subprocess.DEVNULL if out else subprocess.STDOUT
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=errors, stdin=subprocess.DEVNULL
    ) as ffmpeg:
        end = Timer(longest, ffmpeg.kill)
        end.start()
        try:
            assert ffmpeg.stdout is not None
            yield ffmpeg.stdout
        finally:
            end.cancel()
            ffmpeg.kill()


def _lasts(path: Path) -> float | None:
    """Duration given in the file [s]; it may be wrong."""
    with _ffmpeg(path, "info", [], SOON) as pipe:
        found = TOLD.search(pipe.read(LONGEST_TOLD))
    if found is None:
        return None
    hours, minutes, seconds = (float(number) for number in found.groups())
    return 3600.0 * hours + 60.0 * minutes + seconds


def _described(path: Path, pipe: IO[bytes], lasts: float | None) -> Clip:
    """Properties in the stream's first line: YUV4MPEG2 W640 H480 F120:1 ..."""
    found = HEAD.match(pipe.readline(LONGEST_HEAD))
    if found is None:
        raise CaseError(
            "Is not a readable clip: it is damaged, not a clip, or has more than "
            f"{LARGEST_PICTURE // 1_000_000} million pixels per frame",
            file=path,
            allowed="Give the file as the camera wrote it, e.g. .mp4 or .mov.",
        )
    width, height, frames, seconds = (int(number) for number in found.groups())
    rate = frames / seconds if frames and seconds else None
    count = round(lasts * rate) if lasts and rate else None
    _check_size(path, width * height, count or 1)
    return Clip(path, width, height, rate, count)


def _check_size(path: Path, pixels: int, frames: int) -> None:
    if frames > MOST_FRAMES:
        raise CaseError(
            f"Has more than {MOST_FRAMES} frames",
            file=path,
            allowed="Cut it to the sinking and a second around it.",
        )
    if frames * pixels > MOST_PIXELS:
        raise CaseError(
            f"Has too many frames: {frames} or more of {pixels / 1e6:.1f} million pixels",
            file=path,
            allowed="Cut it to the sinking and a second around it, or reduce its size: 1280 x 720 "
            "pixels are enough.",
        )


def _frames(clip: Clip, pipe: IO[bytes], patience: Patience) -> Iterator[Grey]:
    """Each frame: a line, then its pixels; an incomplete one is left out."""
    count, size = 0, clip.width * clip.height
    while pipe.readline(LONGEST_HEAD).startswith(b"FRAME"):
        raw = pipe.read(size)
        if len(raw) < size:
            break
        count += 1
        _check_size(clip.path, size, count)
        patience.step(count, 2 * clip.frames if clip.frames else None)
        yield np.frombuffer(raw, dtype=np.uint8).reshape(clip.height, clip.width)
    patience.step(count, None)
    if not count:
        raise CaseError(
            "Is not a readable clip: it has no readable frame",
            file=clip.path,
            allowed="Give the file as the camera wrote it, e.g. .mp4 or .mov.",
        )


LONGEST = 60.0  # time limit for a clip [s]


class Patience:
    """Shows progress per frame and stops a clip that takes too long.

    path : the clip
    show : called with the number of frames done and in total, or None
    """

    def __init__(self, path: Path, show: Callable[[int, int], None] | None = None) -> None:
        self.path, self.show = path, show
        self.ends = time.monotonic() + LONGEST

    def step(self, done: int, total: int | None) -> None:
        """Count a frame, or raise `CaseError` if the time is up."""
        if self.left == 0.0:
            raise CaseError(
                f"Takes longer than {LONGEST:.0f} s to trace: stopped at step {done}"
                + (f" of {total}" if total else ""),
                file=self.path,
                allowed="Cut the clip to the sinking and a second around it, or reduce its size: "
                "1280 x 720 pixels are enough.",
            )
        if self.show is not None and total:
            self.show(min(done, total), total)

    @property
    def left(self) -> float:
        """Remaining seconds."""
        return max(self.ends - time.monotonic(), 0.0)
