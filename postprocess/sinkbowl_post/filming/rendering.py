"""Frames drawn one after the other, or by several processes, which gives the same pixels.

Each process sets up the scene for itself from the script and draws the frames that it is handed.
They come back in the order of the film, through a file that all processes have in their memory: a
frame is 8 MB, too much for a pipe.
"""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Generator, Sequence
from concurrent.futures import Future
from functools import lru_cache
from pathlib import Path
from typing import Protocol

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl.files.durable import reserve
from sinkbowl.files.scratch import scratch
from sinkbowl.running.process_pool import cores, processes
from sinkbowl_post.filming.picture import Pixels
from sinkbowl_post.filming.row import RowScene
from sinkbowl_post.filming.script import Script
from sinkbowl_post.filming.single import SingleScene
from sinkbowl_post.filming.stage import SIZE

WORTH_A_PROCESS = 40
"""Frames that take longer to draw than a process to start."""

AHEAD = 3
"""Frames for each process that are drawn before the first of them is taken."""

SCRIPT, SLOTS = "script", "frames"
"""Files of a film in the making: what to draw, and places for the frames (n, 1080, 1920, 4)."""


class Scene(Protocol):
    """Draws the frames of a film in any order."""

    def draw(self, instant: int) -> Pixels:
        """Pixels (1080, 1920, 4) of one instant; the array is used again for the next."""
        ...


def scene_of(script: Script) -> Scene:
    """Set up the stage of a film."""
    return SingleScene(script) if len(script.results) == 1 else RowScene(script)


def draw_frames(
    script: Script, instants: Sequence[int], workers: int | None = None
) -> Generator[tuple[int, Pixels]]:
    """Draw some instants of a film, in their order.

    Parameters
    ----------
    workers : processes; None for as many as cores, fewer for a short film

    Yields
    ------
    instant and its pixels, which the next frame may overwrite

    Raises
    ------
    ResultError : a frame cannot be read
    RunError : processes came to a sudden end, time and again
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
    """Write the script, and take the room for frames before any process writes into it.

    A process that writes where the disk then has no room for its memory would be killed.
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
    with processes(workers) as pool:
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
    """Scene and slots of the film that this process draws; the script is the parent's own file."""
    slots = np.memmap(folder / SLOTS, np.uint8, "r+")
    scene = scene_of(pickle.loads((folder / SCRIPT).read_bytes()))
    return scene, slots.reshape(-1, SIZE[1], SIZE[0], 4)


def _draw(folder: Path, instant: int, slot: int) -> None:
    scene, slots = _set_up(folder)
    slots[slot] = scene.draw(instant)
