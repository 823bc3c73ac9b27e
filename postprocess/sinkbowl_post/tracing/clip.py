"""A clip from a camera: what it is, and its frames in grey, one at a time.

Clips come from anywhere, so that FFmpeg may open nothing but the file itself, and only as one of
the formats that cameras write: no list of other files, no address.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import imageio_ffmpeg
import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import CaseError

Grey = NDArray[np.uint8]

FORMATS = ("mov", "matroska", "webm", "avi", "mpegts", "mpeg", "asf", "flv", "ogg", "gif", "dv")
"""What a camera or a telephone writes, by FFmpeg's names (mov is MP4, too)."""

LARGEST_PICTURE = 36_000_000
"""Pixels of a frame beyond which a clip is refused."""

HEAD = re.compile(rb"YUV4MPEG2 W(\d+) H(\d+) F(\d+):(\d+) ")
LONGEST_HEAD = 300

MOST_FRAMES = 50_000
"""Frames beyond which a clip is refused: seven minutes at 120 a second."""


@dataclass(frozen=True)
class Clip:
    """What a clip says of itself.

    Attributes
    ----------
    path : the file
    width, height : of a frame as it is seen, upright [pixels]
    rate : frames a second by its own clock; None where it does not say
    """

    path: Path
    width: int
    height: int
    rate: float | None

    @property
    def name(self) -> str:
        """Of the file, as a figure can show it: a dollar sign begins no formula."""
        return self.path.name.replace("$", r"\$")


@contextmanager
def opened(path: Path) -> Iterator[tuple[Clip, Iterator[Grey]]]:
    """A clip and its frames, (height, width) each, of which one at a time is in memory.

    Raises
    ------
    CaseError : no such file, nothing that FFmpeg reads, pictures or clip too large
    """
    if not path.is_file():
        raise CaseError("There is no such clip", file=path, allowed="Give a file from a camera.")
    command = [
        *(imageio_ffmpeg.get_ffmpeg_exe(), "-nostdin", "-loglevel", "quiet"),
        *("-protocol_whitelist", "file", "-format_whitelist", ",".join(FORMATS)),
        *("-max_pixels", str(LARGEST_PICTURE), "-i", str(path.resolve()), "-an", "-sn", "-dn"),
        *("-pix_fmt", "gray", "-f", "yuv4mpegpipe", "-"),
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL) as ffmpeg:
        try:
            assert ffmpeg.stdout is not None
            clip = _described(path, ffmpeg.stdout)
            yield clip, _frames(clip, ffmpeg.stdout)
        finally:
            ffmpeg.kill()


def _described(path: Path, pipe: IO[bytes]) -> Clip:
    """What the stream's first line says: YUV4MPEG2 W640 H480 F120:1 ..."""
    found = HEAD.match(pipe.readline(LONGEST_HEAD))
    if found is None:
        raise CaseError(
            "Is no clip that can be read: damaged, no clip, or of more than "
            f"{LARGEST_PICTURE // 1_000_000} million pixels a frame",
            file=path,
            allowed="Give the file as the camera wrote it, e.g. .mp4 or .mov.",
        )
    width, height, frames, seconds = (int(number) for number in found.groups())
    return Clip(path, width, height, frames / seconds if frames and seconds else None)


def _frames(clip: Clip, pipe: IO[bytes]) -> Iterator[Grey]:
    """Each frame: a line, then its pixels; one that breaks off is left out."""
    count, size = 0, clip.width * clip.height
    while pipe.readline(LONGEST_HEAD).startswith(b"FRAME"):
        raw = pipe.read(size)
        if len(raw) < size:
            break
        count += 1
        if count > MOST_FRAMES:
            raise CaseError(
                f"Has more than {MOST_FRAMES} frames",
                file=clip.path,
                allowed="Cut it to the sinking and a second around it.",
            )
        yield np.frombuffer(raw, dtype=np.uint8).reshape(clip.height, clip.width)
    if not count:
        raise CaseError(
            "Is no clip that can be read: no frame comes out of it",
            file=clip.path,
            allowed="Give the file as the camera wrote it, e.g. .mp4 or .mov.",
        )
