"""Progress bars on the terminal's error stream; nothing at all where nobody watches one.

That is where the stream is piped, whatever else says that colours are wanted, on a terminal that
cannot move its cursor, and in automatic builds, which set CI and keep all that is printed.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, Progress, ProgressColumn, TextColumn

if TYPE_CHECKING:
    from sinkbowl.running.ensemble_runs import EnsembleProgress
    from sinkbowl.running.progress import Progress as RunProgress
    from sinkbowl.sweeps.log import SweepProgress

NARROW = 60
"""Columns below which a line has no room for a bar."""


@contextmanager
def run_bar() -> Iterator[Callable[[RunProgress], None] | None]:
    """Bar of a run: simulated time, draft and what is left, as the run itself estimates it."""
    with _task("starting", 1.0) as update:

        def show(now: RunProgress) -> None:
            assert update is not None
            update(
                completed=now.fraction_done,
                description=f"t = {now.t:.3f} s, draft {now.draft * 1e3:.1f} mm",
                left=time_left(now.remaining_seconds),
            )

        yield show if update else None


@contextmanager
def sweep_bar() -> Iterator[Callable[[SweepProgress], None] | None]:
    """Bar of a sweep: runs done, by their share of the work."""
    with _task("sweep", 1.0) as update:

        def show(now: SweepProgress) -> None:
            assert update is not None
            update(
                completed=now.share,
                description=f"sweep, {now.done} of {now.total} runs",
                left=time_left(now.remaining_seconds),
            )

        yield show if update else None


@contextmanager
def ensemble_bar() -> Iterator[Callable[[EnsembleProgress], None] | None]:
    """Bar of several runs for one result: runs done, and their share of the work."""
    with _task("starting", 1.0) as update:

        def show(now: EnsembleProgress) -> None:
            assert update is not None
            update(
                completed=now.fraction_done,
                description=f"{now.done} of {now.total} runs done",
                left=time_left(now.remaining_seconds),
            )

        yield show if update else None


@contextmanager
def film_bar() -> Iterator[Callable[[int, int], None] | None]:
    """Bar of a film: frames drawn."""
    with _task("film") as update:

        def show(done: int, total: int) -> None:
            assert update is not None
            description = f"film, frame {done} of {total}"
            update(completed=done, total=total, description=description)

        yield show if update else None


@contextmanager
def step_bar(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Bar of some steps of about the same length, named by what they are."""
    with _task(what) as update:
        yield (lambda done, total: update(completed=done, total=total)) if update else None


def time_left(remaining: float | None) -> str:
    """What is left, no finer than one can know it: 'about 40 s left', 'about 3 min left'."""
    if not remaining:
        return ""
    if remaining < 5:
        return "a few seconds left"
    if remaining < 90:
        return f"about {5 * round(remaining / 5)} s left"
    return f"about {round(remaining / 60)} min left"


@contextmanager
def _task(what: str, total: float | None = None) -> Iterator[Callable[..., None] | None]:
    """What moves a bar of one task on; None where nobody sees it."""
    console = Console(stderr=True)
    watched = sys.stderr.isatty() and console.is_interactive and not os.environ.get("CI")
    if not watched:
        yield None
        return
    with Progress(*_columns(console.width), console=console, transient=True) as bar:
        yield partial(bar.update, bar.add_task(what, total=total, left=""))


def _columns(width: int) -> Iterator[ProgressColumn]:
    """What stands in the line; on a narrow terminal the words and the number alone."""
    yield TextColumn("{task.description}")
    if width >= NARROW:
        yield BarColumn(complete_style="blue", finished_style="blue")
    yield TextColumn("{task.percentage:>3.0f} %")
    if width >= NARROW:
        yield TextColumn("{task.fields[left]}")
