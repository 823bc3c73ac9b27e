"""What ``sinkbowl run`` prints at the end: figures for scripts, a few lines for people."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sinkbowl.running.levels import Levels
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


def levels_figures(levels: Levels) -> dict[str, Any]:
    """The end of a run on several grids as plain numbers and strings, units in the keys."""
    verdict = levels.verdict
    return run_figures(levels.finest) | {
        "sinking_time_uncertainty_s": levels.uncertainty,
        "cells_m": list(levels.cells),
        "sinking_times_s": list(levels.sinking_times),
        "convergence": verdict.kind if verdict else None,
        "observed_order": verdict.order if verdict and math.isfinite(verdict.order) else None,
        "levels_warning": levels.warning,
    }


def levels_page(levels: Levels) -> str:
    """A run on several grids in words, the finest grid first."""
    from sinkbowl_post.style import seconds, seconds_with

    lines = [run_page(levels.finest), ""]
    for cell, time in zip(levels.cells, levels.sinking_times, strict=True):
        told = "not under" if time is None else seconds(time)
        lines.append(f"cells of {cell * 1e3:.3g} mm: {told}")
    time, verdict = levels.sinking_times[0], levels.verdict
    if time is not None and verdict is not None:
        order = f", observed order {verdict.order:.2g}" if math.isfinite(verdict.order) else ""
        told = seconds_with(time, levels.uncertainty)
        lines.append(f"rim under after {told} (numerical, 95 %{order})")
    if levels.warning:
        lines.append(f"Careful: {levels.warning}.")
    return "\n".join(lines)


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
