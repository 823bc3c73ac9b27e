"""Frames drawn one after the other, or by several processes, which gives the same pixels.

Each process sets up the scene for itself from the script and draws the frames that it is handed.
They come back in the order of the film, and only a few are waited for at a time: a frame is 8 MB.
"""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Generator, Sequence
from concurrent.futures import Future
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from sinkbowl.running.crew import ProcessCrew, cores
from sinkbowl_post.film.picture import Pixels
from sinkbowl_post.film.scene import Scene, scene_of
from sinkbowl_post.film.script import Script

WORTH_A_PROCESS = 40
"""Frames that take longer to draw than a process to start."""

AHEAD = 3
"""Frames for each process that are drawn before the first of them is taken."""


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
    with TemporaryDirectory(prefix="sinkbowl-film-") as folder:
        path = Path(folder) / "script"
        path.write_bytes(pickle.dumps(script))
        yield from _drawn_by_many(path, instants, workers)


def _drawn_by_many(
    path: Path, instants: Sequence[int], workers: int
) -> Generator[tuple[int, Pixels]]:
    crew = ProcessCrew(workers, lambda *_: None)
    waiting: deque[tuple[int, Future[Pixels]]] = deque()
    try:
        for instant in instants:
            waiting.append((instant, crew.submit(_draw, path, instant)))
            if len(waiting) >= AHEAD * workers:
                first, future = waiting.popleft()
                yield first, future.result()
        for first, future in waiting:
            yield first, future.result()
    finally:
        crew.stop()


@lru_cache(maxsize=1)
def _scene(path: Path) -> Scene:
    """The scene of the film that this process draws; the script is the parent's own file."""
    return scene_of(pickle.loads(path.read_bytes()))


def _draw(path: Path, instant: int) -> Pixels:
    return _scene(path).draw(instant)
