"""A made-up result of a sinking cup, written through the recorder, for tests of what reads results.

The history is the closed form of the quasi-static filling of an upright cup (head falling with the
square of time, Torricelli's law times a discharge coefficient of 0.62); the fields are a painter's
impression: still water outside, a flat inner level, a jet with the head's speed over the hole.
"""

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from cups import cup_text
from sinkbowl.common import GRAVITY
from sinkbowl.files.record import HISTORY, KIND, SCHEMA_VERSION
from sinkbowl.files.recorder import Recorder
from sinkbowl.files.safe_reading import seal

RADIUS, HEIGHT, WALL, BASE, MASS, HOLE = 0.050, 0.060, 0.002, 0.002, 0.200, 0.020
DENSITY = 998.2072
DISCHARGE = 0.62

CASE_TEXT = cup_text(title="Steel tea cup, 20 mm hole", more="discharge_coefficient = 0.62")

OUTLINE = np.array(
    [
        (HOLE / 2, 0.0),
        (RADIUS, 0.0),
        (RADIUS, HEIGHT),
        (RADIUS - WALL, HEIGHT),
        (RADIUS - WALL, BASE),
        (HOLE / 2, BASE),
    ]
)


@dataclass(frozen=True)
class Filling:
    """Closed form of the quasi-static filling at the times t."""

    t: NDArray[np.float64]
    draft: NDArray[np.float64]
    inner_level: NDArray[np.float64]
    head: NDArray[np.float64]
    hole_flow: NDArray[np.float64]
    inner_volume: NDArray[np.float64]


def filling(steps: int) -> Filling:
    """Quasi-static filling from the moment the hole's plug is full until the rim is under.

    Archimedes: mass / density = outer area * draft - inner area * level - hole area * base.
    """
    outer, hole = math.pi * RADIUS**2, math.pi * HOLE**2 / 4
    inner = math.pi * (RADIUS - WALL) ** 2
    gain = (1 - inner / outer) * DISCHARGE * hole * math.sqrt(2 * GRAVITY) / (2 * inner)
    start = (MASS / DENSITY + hole * BASE) / outer - BASE
    full = (HEIGHT - BASE - start) / (inner / outer)  # inner level when the rim passes under
    end = (math.sqrt(start) - math.sqrt(start - full * (1 - inner / outer))) / gain
    t = np.linspace(0, end, steps)
    head = (math.sqrt(start) - gain * t) ** 2
    level = (start - head) / (1 - inner / outer)
    flow = DISCHARGE * hole * np.sqrt(2 * GRAVITY * head)
    return Filling(t, BASE + head + level, level, head, flow, hole * BASE + inner * level)


def write_result(
    path: Path,
    *,
    frames: int = 4,
    cells: tuple[int, int] = (40, 60),
    status: str = "finished",
    steps: int = 200,
) -> Path:
    """Write the made-up result; status "running" leaves the file as a killed run does."""
    fill = filling(steps)
    case: Any = SimpleNamespace(title="Steel tea cup, 20 mm hole", text=CASE_TEXT, path=None)
    recorder = Recorder.create(path, case)
    r_f, z_f = _faces(*cells)
    recorder.grid(
        {
            "r_f": r_f,
            "z_f": z_f,
            "open_fraction": _open_fraction(r_f, z_f),
            "outline": OUTLINE,
            "grid_outline": OUTLINE,
            "ballast_outline": np.zeros((0, 2)),
        }
    )
    recorder.event("start", 0.0)
    for k in range(steps):
        recorder.append_history(_row(fill, k))
    for k in np.linspace(0, steps - 1, frames).astype(int):
        recorder.frame(fill.t[k], fill.draft[k], _speed(fill)[k], _fields(r_f, z_f, fill, k))
    if status == "running":
        recorder.publish()
        recorder.abandon()
        return path
    recorder.event("rim_under", fill.t[-1])
    recorder.finish(status, fill.t[-1], "", f"sinks: rim under after {fill.t[-1]:.3f} s")
    return path


@contextmanager
def edited(path: Path) -> Iterator[h5py.File]:
    """A result open to be changed, and sealed again as if the recorder had written it so."""
    with h5py.File(path, "r+") as file:
        yield file
    seal_again(path)


def seal_again(path: Path, kind: str = KIND, schema: str = SCHEMA_VERSION) -> None:
    """Seal a file that was changed, as someone who means harm would."""
    with path.open("r+b") as file:
        seal(file, kind, schema)


def keep_steps(path: Path, steps: int) -> None:
    """Cut the history of a result to its first steps, as in a run that was killed there."""
    with edited(path) as file:
        for column in file["history"].values():
            column.resize(steps, axis=0)
        file.attrs["sinking_time_s"] = math.nan


def _speed(fill: Filling) -> NDArray[np.float64]:
    return np.gradient(fill.draft, fill.t)


def _row(fill: Filling, k: int) -> dict[str, float]:
    row = dict.fromkeys(HISTORY, 0.0)
    row.update({name: float(getattr(fill, name)[k]) for name in fill.__dataclass_fields__})
    row.update(speed=float(_speed(fill)[k]), water_volume=0.012, dt=1e-3, stride=1e-3, iterations=6)
    return row


def _faces(nr: int, nz: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Faces that are fine around the bowl and stretched outside it."""
    stretch_r, stretch_z = np.linspace(0, 1, nr + 1), np.linspace(-1, 1, nz + 1)
    r_f = 0.15 * (0.5 * stretch_r + 0.5 * stretch_r**3)
    z_f = 0.03 + 0.15 * (0.45 * stretch_z + 0.55 * stretch_z**3)
    return r_f, z_f


def _open_fraction(r_f: NDArray[np.float64], z_f: NDArray[np.float64]) -> NDArray[np.float64]:
    base = _share(r_f, HOLE / 2, RADIUS)[:, None] * _share(z_f, 0.0, BASE)[None, :]
    wall = _share(r_f, RADIUS - WALL, RADIUS)[:, None] * _share(z_f, BASE, HEIGHT)[None, :]
    return 1 - base - wall


def _share(faces: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
    """Share of each cell that lies between low and high."""
    inside = np.clip(faces, low, high)
    return np.diff(inside) / np.diff(faces)


def _fields(
    r_f: NDArray[np.float64], z_f: NDArray[np.float64], fill: Filling, k: int
) -> dict[str, NDArray[np.float64]]:
    r, z = (r_f[1:, None] + r_f[:-1, None]) / 2, (z_f[None, 1:] + z_f[None, :-1]) / 2
    jet_speed = math.sqrt(2 * GRAVITY * fill.head[k])
    jet = np.exp(-((r / (0.4 * HOLE)) ** 4))
    inside = (r < RADIUS - WALL) & (z > 0)
    level = BASE + fill.inner_level[k] + 0.8 * fill.head[k] * jet
    surface = np.where(inside, level, fill.draft[k])
    height = np.diff(z_f)[None, :]
    water = np.clip((surface - z_f[None, :-1]) / height, 0, 1)
    rising = jet * np.where(z < 0, np.exp(z / 0.012), 1.0) * (z < surface)
    swirl = np.exp(-((r - 0.03) ** 2 + (z - 0.5 * level) ** 2) / 0.012**2) * inside
    return {
        "volume_fraction": water * np.ones_like(r),
        "pressure": DENSITY * GRAVITY * np.maximum(surface - z, 0.0),
        "u_r": 0.3 * jet_speed * swirl,
        "u_z": jet_speed * rising - _speed(fill)[k] * inside * (1 - jet),
    }


def write_faster_result(path: Path, hole: str, haste: float, frames: int = 4) -> Path:
    """The made-up result with another hole in its case, everything happening so much sooner."""
    write_result(path, frames=frames)
    with edited(path) as file:
        file.attrs["case_text"] = CASE_TEXT.replace('"20 mm"', f'"{hole}"')
        for times in (file["frames/t"], file["history/t"]):
            times[:] = times[:] / haste
        file.attrs["sinking_time_s"] /= haste
    return path
