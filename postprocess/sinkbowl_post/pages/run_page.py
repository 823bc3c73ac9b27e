"""What ``sinkbowl run`` prints at the end: figures for scripts, a few lines for people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl.running.runner import RunResult


def run_figures(done: RunResult) -> dict[str, Any]:
    """The end of a run as plain numbers and strings, units in the keys."""
    return {
        "result": str(done.path),
        "status": done.status,
        "sinking_time_s": done.sinking_time,
        "outcome": done.outcome,
        "steps": done.steps,
        "wall_seconds": done.wall_seconds,
        "volume_error": done.volume_error,
        "notes": list(done.notes),
    }


def run_page(done: RunResult) -> str:
    """The end of a finished run in words."""
    from sinkbowl_post.style import seconds

    time = (
        "the rim never passes under"
        if done.sinking_time is None
        else (f"rim under after {seconds(done.sinking_time)}")
    )
    notes = "".join(f"{note}\n" for note in done.notes)
    return (
        f"{time} ({done.outcome})\n{notes}"
        f"{done.steps} steps in {done.wall_seconds:.0f} s, "
        f"water volume kept to {abs(done.volume_error):.1g}\n"
        f"{done.path}: written. Next: sinkbowl compare {done.path}"
    )
