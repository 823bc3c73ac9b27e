"""Drawing of frames, in this process or in several, with the same pixels.

Each process sets up the scene from the script and draws the frames assigned to it. They are
returned in the order of the film, through a memory-mapped file: a frame of 8 MB is too large for a
pipe.
"""

import pickle
from collections import deque
from collections.abc import Generator, Sequence
from concurrent.futures import Future
from functools import lru_cache
from pathlib import Path
from typing import Protocol

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl.files.safe_writing import reserve, scratch
from sinkbowl.running.process_pool import ProcessPool, cores
from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.filming.row import RowScene
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.single import SingleScene
from sinkbowl_post.filming.stage import SIZE

WORTH_A_PROCESS = 40  # number of frames worth starting a process for
AHEAD = 3  # frames drawn ahead per process

SCRIPT, SLOTS = "script", "frames"
"""Working files of a film: script, and slots for frames (n, 1080, 1920, 4)."""


class Scene(Protocol):
    """Draws the frames of a film in any order."""

    def draw(self, instant: int) -> Pixels:
        """Pixels (1080, 1920, 4) of one instant; the array is reused for the next."""
        ...


def scene_of(script: Script) -> Scene:
    """Set up the stage of a film."""
    return SingleScene(script) if len(script.results) == 1 else RowScene(script)


def draw_frames(
    script: Script, instants: Sequence[int], workers: int | None = None
) -> Generator[tuple[int, Pixels]]:
    """Draw some instants of a film, in order.

    workers : number of processes; None: one per core, fewer for a short film

    Yields each instant and its pixels, which the next frame may overwrite. Raises ResultError if a
    frame cannot be read, RunError if processes ended unexpectedly several times.
    """
    workers = workers or min(cores(), -(-len(instants) // WORTH_A_PROCESS))
    if workers == 1:
        scene = scene_of(script)
        for instant in instants:
            yield instant, scene.draw(instant)
        return
    with scratch("sinkbowl-film-") as folder:
        _make_room(folder, script, AHEAD * workers)
        yield from _drawn_by_many(folder, instants, workers)


def _make_room(folder: Path, script: Script, count: int) -> None:
    """Write the script, and allocate the space for frames before any process writes into it.

    Writing to a mapped file on a full disk would kill the process.
    """
    size = count * SIZE[0] * SIZE[1] * 4
    try:
        (folder / SCRIPT).write_bytes(pickle.dumps(script))
        reserve(folder / SLOTS, size)
    except OSError as error:
        raise ResultError(
            f"{folder.parent}: cannot hold {size / 1e6:.0f} MB of temporary frames "
            f"({error.strerror}). Free disk space, set TMPDIR to another folder, or give --workers "
            "1, which needs none."
        ) from error


def _drawn_by_many(
    folder: Path, instants: Sequence[int], workers: int
) -> Generator[tuple[int, Pixels]]:
    count = AHEAD * workers
    slots = np.memmap(folder / SLOTS, np.uint8, "r+", shape=(count, SIZE[1], SIZE[0], 4))
    waiting: deque[tuple[int, int, Future[None]]] = deque()
    with ProcessPool(workers) as pool:
        for number, instant in enumerate(instants):
            slot = number % count
            if len(waiting) == count:
                yield _taken(waiting.popleft(), slots)
            waiting.append((instant, slot, pool.submit(_draw, folder, instant, slot)))
        while waiting:
            yield _taken(waiting.popleft(), slots)


def _taken(task: tuple[int, int, Future[None]], slots: Pixels) -> tuple[int, Pixels]:
    instant, slot, drawn = task
    drawn.result()
    return instant, slots[slot]


@lru_cache(maxsize=1)
def _set_up(folder: Path) -> tuple[Scene, Pixels]:
    """Scene and slots of this process; the script is the parent's file."""
    slots = np.memmap(folder / SLOTS, np.uint8, "r+")
    scene = scene_of(pickle.loads((folder / SCRIPT).read_bytes()))
    return scene, slots.reshape(-1, SIZE[1], SIZE[0], 4)


def _draw(folder: Path, instant: int, slot: int) -> None:
    scene, slots = _set_up(folder)
    slots[slot] = scene.draw(instant)
