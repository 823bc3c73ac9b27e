"""Progress on the error stream: a bar with the remaining time, or lines without a terminal.

Lines are printed if the stream is a pipe, on a terminal that cannot move its cursor, and in
automatic builds (CI is set): the first after FIRST_LINE, the next each time that the elapsed time
has doubled.
"""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TYPE_CHECKING, Protocol

from rich.console import Console
from rich.progress import BarColumn, Progress, ProgressColumn, TextColumn

from sinkbowl_post.pages.printing import print_aside

if TYPE_CHECKING:
    from sinkbowl.running.job_queue import QueueProgress
    from sinkbowl.running.runner import Progress as RunProgress

NARROW = 60  # minimum width of a bar in columns
FIRST_LINE = 20.0  # time of the first line without a bar [s]; the next ones at 2, 4, 8 times
FIRST_GUESS = 1.0  # elapsed time from which the remaining time is estimated [s]
FIRST_STEP = (
    0.05  # share below which the first step's time, with all that it starts, is not counted
)


@contextmanager
def run_bar() -> Iterator[Callable[[RunProgress], None]]:
    """Bar of a run: simulated time, draft and remaining time by the run's own estimate."""
    with _task("starting") as update:
        yield lambda now: update(
            now.fraction_done,
            f"t = {now.t:.3f} s, draft {now.draft * 1e3:.1f} mm",
            now.remaining_seconds,
        )


@contextmanager
def queue_bar(words: str) -> Iterator[Callable[[QueueProgress], None]]:
    """Bar of several runs: number done, and share of the work."""
    with _task("starting") as update:
        yield lambda now: update(
            now.fraction_done, words.format(done=now.done, total=now.total), now.remaining_seconds
        )


@contextmanager
def film_bar() -> Iterator[Callable[[int, int], None]]:
    """Bar of a film: frames drawn."""
    with _task("film") as update:
        yield lambda done, total: update(done / total, f"film, frame {done} of {total}")


@contextmanager
def step_bar(what: str) -> Iterator[Callable[[float, float], None]]:
    """Bar of steps of about equal length, with their name."""
    with _task(what) as update:
        yield lambda done, total: update(done / max(total, 1), what)


def time_left(remaining: float | None) -> str:
    """Remaining time, rounded: 'about 40 s left', 'about 3 min left'."""
    if not remaining:
        return ""
    if remaining < 5:
        return "a few seconds left"
    if remaining < 90:
        return f"about {5 * round(remaining / 5)} s left"
    return f"about {round(remaining / 60)} min left"


class Update(Protocol):
    """Updates a task: share done, description, remaining time [s] if known."""

    def __call__(self, share: float, what: str, remaining: float | None = None, /) -> None:
        """One step on."""


@contextmanager
def _task(what: str) -> Iterator[Update]:
    """Update function of a task; a wait within it has no other notice."""
    logging.getLogger("sinkbowl").setLevel(logging.WARNING)
    console, begun, due = Console(stderr=True), monotonic(), FIRST_LINE
    paced: tuple[float, float] | None = None  # time and share from which the pace is measured

    def left(share: float, remaining: float | None) -> str:
        """Remaining time, at constant pace if unknown."""
        nonlocal paced
        gone = monotonic() - begun
        if paced is None and share > 0.0:
            paced = (gone, share) if share < FIRST_STEP else (0.0, 0.0)
        if not remaining and paced and share > paced[1] and gone > FIRST_GUESS:
            remaining = (gone - paced[0]) * (1.0 - share) / (share - paced[1])
        return time_left(remaining)

    def line(share: float, what: str, remaining: float | None = None, /) -> None:
        nonlocal due
        gone, rest = monotonic() - begun, left(share, remaining)
        if gone < due or share >= 1.0:
            return
        while due <= gone:
            due *= 2.0
        phrase = (what, f"{share:.0%} done", rest)
        print_aside(", ".join(part for part in phrase if part))

    if not (sys.stderr.isatty() and console.is_interactive) or os.environ.get("CI"):
        yield line
        return
    with Progress(*_columns(console.width), console=console, transient=True) as bar:
        task = bar.add_task(what, total=1.0, left="")
        yield lambda share, what, remaining=None, /: bar.update(
            task, completed=share, description=what, left=left(share, remaining)
        )


def _columns(width: int) -> Iterator[ProgressColumn]:
    """Parts of the line; on a narrow terminal only text and number."""
    yield TextColumn("{task.description}")
    if width >= NARROW:
        yield BarColumn(complete_style="blue", finished_style="blue")
    yield TextColumn("{task.percentage:>3.0f} %")
    if width >= NARROW:
        yield TextColumn("{task.fields[left]}")
