"""Clips of a rim that goes down, drawn with a known depth, for tests of `sinkbowl trace`.

Light background, darker cup, water below: each frame is drawn four times finer than it is shown and
the mean taken over its exposure, so that the rim's place is exact to a small part of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import imageio_ffmpeg
import numpy as np
from scipy.ndimage import gaussian_filter, rotate

WIDTH, HEIGHT = 240, 400
SCALE = 0.25e-3  # m a pixel
RIM_HEIGHT = 60e-3
WATER, MIDDLE = 320.0, 120
FRAMES_A_SECOND = 120.0
RELEASE = 14.3  # frame
FIRST_DRAFT = 12e-3
EXPOSURES = 4


@dataclass(frozen=True)
class Faults:
    """What spoils a clip: noise [grey levels], blur [pixels], tilt [degrees], a splash, CRF."""

    noise: float = 0.0
    blur: float = 0.8
    tilt: float = 0.0
    splash: bool = False
    crf: int = 12
    lettering: bool = True
    bright_bowl: bool = False


def draft_at(t: np.ndarray | float, time: float) -> np.ndarray:
    """Draft [m] at times since release: at rest, then ever faster, rim under after ``time``."""
    share = np.clip(np.asarray(t) / time, 0.0, None)
    return np.asarray(FIRST_DRAFT + (RIM_HEIGHT - FIRST_DRAFT) * (0.4 * share + 0.6 * share**2))


def frame_at(number: int, time: float, faults: Faults, noise: np.random.Generator) -> np.ndarray:
    """Grey frame (HEIGHT, WIDTH) of the exposure that a frame's middle stands for."""
    shots = []
    for part in (np.arange(EXPOSURES) + 0.5) / EXPOSURES - 0.5:
        t = (number + 0.5 * part - RELEASE) / FRAMES_A_SECOND
        shots.append(_shot(float(draft_at(t, time)), faults))
    seen = gaussian_filter(np.mean(shots, axis=0), faults.blur)
    if faults.splash and 40 <= number < 46:
        # drops cross the line, brighter and darker than what is behind
        rows, columns = np.mgrid[:HEIGHT, :WIDTH]
        for k in range(5):
            away = np.hypot(rows - (150 + 25 * k), columns - MIDDLE - 4 * (number - 43))
            seen = np.where(away < 16.0, 245.0 if k % 2 else 60.0, seen)
    if faults.tilt:
        seen = rotate(seen, faults.tilt, reshape=False, order=1, mode="nearest")
    return np.clip(seen + faults.noise * noise.standard_normal(seen.shape), 0, 255)


def _shot(draft: float, faults: Faults) -> np.ndarray:
    rim = WATER - (RIM_HEIGHT - draft) / SCALE
    y = np.arange(HEIGHT, dtype=float)[:, None]
    x = np.arange(WIDTH, dtype=float)[None, :]
    back, bowl, water = (90.0, 205.0, 60.0) if faults.bright_bowl else (205.0, 110.0, 60.0)
    picture = np.full((HEIGHT, WIDTH), back) + 6.0 * np.sin(x / 40.0)
    covered = np.clip(y + 0.5 - rim, 0.0, 1.0) * (np.abs(x - 120.0) < 80.0)
    shade = bowl + 15.0 * (x - 120.0) / 80.0 - 8.0 * (y - rim) / 200.0
    picture = picture * (1.0 - covered) + shade * covered
    if faults.lettering:  # bands painted on the bowl go down with it
        for below in (30.0, 55.0):
            band = np.clip(y + 0.5 - rim - below, 0, 1) * np.clip(rim + below + 9.5 - y, 0, 1)
            marked = band * (np.abs(x - 120.0) < 40.0)
            picture = picture * (1.0 - marked) + 40.0 * marked
    wet = np.clip(y + 0.5 - WATER, 0.0, 1.0)
    return np.asarray(picture * (1.0 - wet) + water * wet)


def write_clip(path: Path, time: float, faults: Faults | None = None, frames: int = 0) -> Path:
    """Encode the sinking as H.264, with some frames after the rim is under."""
    faults = faults or Faults()
    noise = np.random.default_rng(7)
    count = frames or int(RELEASE + time * FRAMES_A_SECOND) + 15
    write_frames(path, (frame_at(k, time, faults, noise) for k in range(count)), faults.crf)
    return path


def write_frames(path: Path, pictures, crf: int = 12) -> None:  # type: ignore[no-untyped-def]
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
    (a0, b0), (a1, b1) = tilted(60, 100, tilt), tilted(60, 340, tilt)
    return {
        "line": f"{x0:.1f},{y0:.1f}:{x1:.1f},{y1:.1f}",
        "length": f"{a0:.1f},{b0:.1f}:{a1:.1f},{b1:.1f} = 60 mm",
        "water": round(tilted(MIDDLE, WATER, tilt)[1], 1),
        "rim_height": RIM_HEIGHT,
    }
