"""Clips of a rim that goes down, drawn with a known depth, for tests of `sinkbowl trace`.

Light background, darker cup, water below: each frame is the mean of pictures drawn over its
exposure, so that the rim's place is exact to a small part of a pixel.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import imageio_ffmpeg
import numpy as np
from scipy.ndimage import gaussian_filter, rotate

WIDTH, HEIGHT = 120, 400
SCALE = 0.25e-3  # m a pixel
RIM_HEIGHT = 60e-3
WATER, MIDDLE = 320.0, 60
FRAMES_A_SECOND = 120.0
RELEASE = 14.3  # frame
FIRST_DRAFT = 12e-3
EXPOSURES = 4
DROPS, DROP, SPLASHED = 5, 16.0, 6  # number, radius [pixels], frames that they take


@dataclass(frozen=True)
class Sinking:
    """How the bowl goes down: a trend, and a bob about it that dies away.

    Attributes
    ----------
    time : until the rim is under [s]
    bob : its height [m]; a bowl that is let go too high bobs down first, > 0, one too low up, < 0
    period, decay : of the bob [s]
    released : frame, a fraction
    at_once : share of the trend that runs at constant speed, the rest from rest
    """

    time: float = 0.45
    bob: float = 0.0
    period: float = 0.4
    decay: float = 0.4
    released: float = RELEASE
    at_once: float = 0.4

    def draft(self, t: np.ndarray | float) -> np.ndarray:
        """Draft [m] at times since release; the rim's height at ``time``."""
        trend = RIM_HEIGHT - FIRST_DRAFT - self._bob(self.time)
        share = np.clip(np.asarray(t) / self.time, 0.0, None)
        fallen = self.at_once * share + (1.0 - self.at_once) * share**2
        return np.asarray(FIRST_DRAFT + trend * fallen + self._bob(t))

    def _bob(self, t: np.ndarray | float) -> np.ndarray:
        since = np.clip(np.asarray(t), 0.0, None)
        swing = np.cos(2.0 * np.pi * since / self.period) * np.exp(-since / self.decay)
        return np.asarray(self.bob * (1.0 - swing))


@dataclass(frozen=True)
class Faults:
    """What spoils a clip: noise [grey levels], blur [pixels], tilt [degrees], a splash, CRF.

    ``splash`` is the frame in which drops begin to cross the line, None for none; ``drawing`` is a
    film of a computation, its rim a dark outline that moves by whole pixels.
    """

    noise: float = 0.0
    blur: float = 0.8
    tilt: float = 0.0
    splash: int | None = None
    crf: int = 12
    lettering: bool = True
    bright_bowl: bool = False
    drawing: bool = False

    def drops(self, number: int) -> list[tuple[float, float]]:
        """Middles (y, x) of the drops in a frame."""
        if self.splash is None or not 0 <= number - self.splash < SPLASHED:
            return []
        across = MIDDLE + 4.0 * (number - self.splash - 3)
        return [(150.0 + 25.0 * k, across) for k in range(DROPS)]

    def near_drop(self, number: int, row: float, within: float) -> bool:
        """Whether a drop lies on the line there, or within so many pixels."""
        reach = DROP + within
        return any(math.hypot(y - row, x - MIDDLE) < reach for y, x in self.drops(number))


@dataclass(frozen=True)
class Drawn:
    """One clip of the table."""

    number: int
    sinking: Sinking
    faults: Faults
    named: bool

    def __str__(self) -> str:
        return f"{self.number:02d}"


def thirty() -> list[Drawn]:
    """Clips as a tub gives them, drawn once for all: the release is named in every second one."""
    draw = np.random.default_rng(20261130)
    clips = []
    for number in range(30):
        named = number % 2 == 1
        released = float(round(draw.uniform(12, 18)) if named else draw.uniform(12, 18))
        sinking = Sinking(
            time=draw.uniform(0.35, 1.2),
            bob=(0.0 if number < 5 else draw.uniform(0.2e-3, 2e-3)) * draw.choice((1.0, 1.0, -1.0)),
            period=draw.uniform(0.25, 0.5),
            decay=draw.uniform(0.2, 0.6),
            released=released,
            at_once=draw.uniform(0.2, 0.6),
        )
        splash = int(released + sinking.time * FRAMES_A_SECOND * draw.uniform(0.2, 0.8))
        faults = Faults(
            noise=draw.choice((0.0, draw.uniform(1, 10))),
            blur=draw.uniform(0.6, 2.5),
            tilt=draw.choice((0.0, draw.uniform(-4, 4))),
            splash=splash if draw.random() < 0.4 else None,
            crf=int(draw.integers(18, 34)),
            lettering=bool(draw.random() < 0.5),
            bright_bowl=bool(draw.random() < 0.3),
        )
        clips.append(Drawn(number + 1, sinking, faults, named))
    return clips


def frame_at(
    number: int, sinking: Sinking, faults: Faults, noise: np.random.Generator
) -> np.ndarray:
    """Grey frame (HEIGHT, WIDTH) of the exposure that a frame's middle stands for."""
    shots = []
    for part in (np.arange(EXPOSURES) + 0.5) / EXPOSURES - 0.5:
        t = (number + 0.5 * part - sinking.released) / FRAMES_A_SECOND
        shots.append(_shot(float(sinking.draft(t)), faults))
    seen = gaussian_filter(np.mean(shots, axis=0), faults.blur)
    # drops cross the line, brighter and darker than what is behind
    for k, (y, x) in enumerate(faults.drops(number)):
        away = np.hypot(np.arange(HEIGHT)[:, None] - y, np.arange(WIDTH)[None, :] - x)
        seen = np.where(away < DROP, 245.0 if k % 2 else 60.0, seen)
    if faults.tilt:
        seen = rotate(seen, faults.tilt, reshape=False, order=1, mode="nearest")
    return np.clip(seen + faults.noise * noise.standard_normal(seen.shape), 0, 255)


def _shot(draft: float, faults: Faults) -> np.ndarray:
    rim = WATER - (RIM_HEIGHT - draft) / SCALE
    rim = round(rim) if faults.drawing else rim
    y = np.arange(HEIGHT, dtype=float)[:, None]
    x = np.arange(WIDTH, dtype=float)[None, :]
    back, bowl, water = (90.0, 205.0, 60.0) if faults.bright_bowl else (205.0, 110.0, 60.0)
    picture = np.full((HEIGHT, WIDTH), back) + 6.0 * np.sin(x / 40.0)
    covered = np.clip(y + 0.5 - rim, 0.0, 1.0) * (np.abs(x - MIDDLE) < 40.0)
    shade = bowl + 15.0 * (x - MIDDLE) / 40.0 - 8.0 * (y - rim) / 200.0
    picture = picture * (1.0 - covered) + shade * covered
    if faults.lettering:  # bands painted on the bowl go down with it
        for below in (30.0, 55.0):
            band = np.clip(y + 0.5 - rim - below, 0, 1) * np.clip(rim + below + 9.5 - y, 0, 1)
            marked = band * (np.abs(x - MIDDLE) < 20.0)
            picture = picture * (1.0 - marked) + 40.0 * marked
    if faults.drawing:
        picture = np.where(np.abs(y - rim - 1.0) < 1.5, 60.0, picture)
    wet = np.clip(y + 0.5 - WATER, 0.0, 1.0)
    return np.asarray(picture * (1.0 - wet) + water * wet)


def write_clip(
    path: Path, sinking: Sinking | None = None, faults: Faults | None = None, frames: int = 0
) -> Path:
    """Encode the sinking as H.264, with some frames after the rim is under."""
    sinking, faults = sinking or Sinking(), faults or Faults()
    noise = np.random.default_rng(7)
    count = frames or int(sinking.released + sinking.time * FRAMES_A_SECOND) + 15
    write_frames(path, (frame_at(k, sinking, faults, noise) for k in range(count)), faults.crf)
    return path


def write_frames(path: Path, pictures: Iterable[np.ndarray], crf: int = 12) -> None:
    """Encode grey pictures (HEIGHT, WIDTH)."""
    pipe = imageio_ffmpeg.write_frames(
        str(path),
        (WIDTH, HEIGHT),
        pix_fmt_in="gray",
        fps=FRAMES_A_SECOND,
        macro_block_size=2,
        quality=None,
        output_params=["-crf", str(crf), "-preset", "veryfast"],
        ffmpeg_log_level="error",
    )
    pipe.send(None)
    for picture in pictures:
        pipe.send(np.ascontiguousarray(np.round(picture).astype(np.uint8)))
    pipe.close()


def tilted(x: float, y: float, degrees: float) -> tuple[float, float]:
    """Where a point of the upright picture is after the tilt (scipy's rotation, by its source)."""
    angle = np.deg2rad(degrees)
    right, down = x - (WIDTH - 1) / 2, y - (HEIGHT - 1) / 2
    return (
        float((WIDTH - 1) / 2 + right * np.cos(angle) + down * np.sin(angle)),
        float((HEIGHT - 1) / 2 - right * np.sin(angle) + down * np.cos(angle)),
    )


def marks_for(tilt: float = 0.0) -> dict[str, object]:
    """What a person would name in such a clip."""
    (x0, y0), (x1, y1) = tilted(MIDDLE, 60, tilt), tilted(MIDDLE, 380, tilt)
    (a0, b0), (a1, b1) = tilted(MIDDLE - 20, 100, tilt), tilted(MIDDLE - 20, 340, tilt)
    return {
        "line": f"{x0:.1f},{y0:.1f}:{x1:.1f},{y1:.1f}",
        "length": f"{a0:.1f},{b0:.1f}:{a1:.1f},{b1:.1f} = 60 mm",
        "water": round(tilted(MIDDLE, WATER, tilt)[1], 1),
        "rim_height": RIM_HEIGHT,
    }
