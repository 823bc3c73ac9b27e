"""Progress bars on the terminal's error stream; nothing at all where it is piped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

if TYPE_CHECKING:
    from sinkbowl.running.progress import Progress as RunProgress
    from sinkbowl.running.sweep_log import SweepProgress


@contextmanager
def run_bar() -> Iterator[Callable[[RunProgress], None] | None]:
    """Bar of a run: simulated time, draft and what is left, as the run itself estimates it."""
    with _bar() as bar:
        if bar is None:
            yield None
            return
        task = bar.add_task("starting", total=1.0, left="")

        def show(now: RunProgress) -> None:
            bar.update(
                task,
                completed=now.fraction_done,
                description=f"t = {now.t:.3f} s, draft {now.draft * 1e3:.1f} mm",
                left=time_left(now.remaining_seconds),
            )

        yield show


@contextmanager
def sweep_bar() -> Iterator[Callable[[SweepProgress], None] | None]:
    """Bar of a sweep: runs done, by their share of the work."""
    with _bar() as bar:
        if bar is None:
            yield None
            return
        task = bar.add_task("sweep", total=1.0, left="")

        def show(now: SweepProgress) -> None:
            bar.update(
                task,
                completed=now.share,
                description=f"sweep, {now.done} of {now.total} runs",
                left=time_left(now.remaining_seconds),
            )

        yield show


@contextmanager
def film_bar() -> Iterator[Callable[[int, int], None] | None]:
    """Bar of a film: frames drawn."""
    with _bar() as bar:
        if bar is None:
            yield None
            return
        task = bar.add_task("film", total=None, left="")

        def show(done: int, total: int) -> None:
            description = f"film, frame {done} of {total}"
            bar.update(task, completed=done, total=total, description=description)

        yield show


@contextmanager
def step_bar(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Bar of some steps of about the same length, named by what they are."""
    with _bar() as bar:
        if bar is None:
            yield None
            return
        task = bar.add_task(what, total=None, left="")
        yield lambda done, total: bar.update(task, completed=done, total=total)


def time_left(remaining: float | None) -> str:
    """What is left, no finer than one can know it: 'about 40 s left', 'about 3 min left'."""
    if remaining is None:
        return ""
    if remaining < 5:
        return "a few seconds left"
    if remaining < 90:
        return f"about {5 * round(remaining / 5)} s left"
    return f"about {round(remaining / 60)} min left"


@contextmanager
def _bar() -> Iterator[Progress | None]:
    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(complete_style="blue", finished_style="blue"),
        TextColumn("{task.percentage:>3.0f} %"),
        TextColumn("{task.fields[left]}"),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        yield bar
