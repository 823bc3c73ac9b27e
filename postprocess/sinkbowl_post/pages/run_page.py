"""Texts and numbers of ``sinkbowl run``, also with ``--estimate``, and of ``sinkbowl sweep``."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from sinkbowl.common.shown import TextTable, seconds
from sinkbowl.scatter.interval import figures, interval_words, longest_of, time_text
from sinkbowl_post.pages.printing import print_out, print_table

if TYPE_CHECKING:
    from sinkbowl.running.estimate import Estimate
    from sinkbowl.running.merging import Grids, Members
    from sinkbowl.running.runner import RunResult
    from sinkbowl.sweeps.index import Sweep, SweepRun


def run_figures(done: RunResult) -> dict[str, Any]:
    """The end of a run as plain numbers and strings, units in the keys."""
    return {
        "result": str(done.path),
        "status": done.status,
        "sinking_time_s": done.sinking_time,
        **figures(done.interval),
        "members": 1,
        "members_s": [done.sinking_time],
        "seed": None,
        "outcome": done.outcome,
        "steps": done.steps,
        "wall_seconds": done.wall_seconds,
        "volume_error": done.volume_error,
        "notes": list(done.notes),
    }


def grids_figures(levels: Grids) -> dict[str, Any]:
    """The end of a run on several grids as plain numbers and strings, units in the keys."""
    verdict = levels.verdict
    return run_figures(levels.finest) | {
        "sinking_time_uncertainty_s": levels.uncertainty,
        "cells_m": list(levels.cells),
        "sinking_times_s": list(levels.sinking_times),
        "convergence": verdict.kind if verdict else None,
        "observed_order": verdict.order if verdict and math.isfinite(verdict.order) else None,
        "grids_warning": levels.warning,
    }


def members_figures(several: Members) -> dict[str, Any]:
    """The end of an ensemble as plain numbers and strings, units in the keys."""
    grids = several.levels
    return (grids_figures(grids) if grids else run_figures(several.median)) | {
        "members": len(several.times),
        "members_s": list(several.times),
        "median_member": several.median_member,
        "seed": several.seed,
    }


def grids_page(levels: Grids) -> str:
    """A run on several grids in words, the finest grid first."""
    return "\n".join([run_page(levels.finest), "", *_grid_lines(levels, "")])


def members_page(several: Members) -> str:
    """An ensemble in words: the best time and its interval, each member, each grid."""
    known = [time for time in several.times if time is not None]
    longest = longest_of(known, [several.median.interval])
    estimate = ", ".join(_or_dry(time, longest) for time in several.times)
    lines = [run_page(several.median), "", f"members, seed {several.seed}: {estimate}"]
    if len(known) > 1:
        apart = seconds(float(np.std(known, ddof=1)))
        lines.append(f"standard deviation {apart}")
    if len(known) < len(several.times):
        lines.append(f"Caution: the rim goes under in {len(known)} of {len(several.times)} only.")
    if several.levels is not None:
        lines += _grid_lines(several.levels, ", mean of the members")
    return "\n".join(lines)


def _grid_lines(levels: Grids, of_what: str) -> list[str]:
    """One line per grid, and their comparison."""
    longest = longest_of(levels.sinking_times, [levels.finest.interval])
    lines = [
        f"cells of {cell * 1e3:.3g} mm: {_or_dry(time, longest)}{of_what}"
        for cell, time in zip(levels.cells, levels.sinking_times, strict=True)
    ]
    verdict = levels.verdict
    if verdict is not None:
        order = f", observed order {verdict.order:.2g}" if math.isfinite(verdict.order) else ""
        error = seconds(verdict.uncertainty, longest)
        lines.append(f"error of the grid ± {error} (numerical, 95 %{order})")
    return lines + ([f"Caution: {levels.warning}."] if levels.warning else [])


def _or_dry(time: float | None, longest: float) -> str:
    return "not under" if time is None else seconds(time, longest)


def run_page(done: RunResult) -> str:
    """The end of a finished run in words."""
    time = (
        "the rim never goes under"
        if done.sinking_time is None
        else f"rim under after {time_text(done.sinking_time, done.interval)}"
    )
    words = f"{done.interval.words}\n" if done.interval else ""
    notes = "".join(f"{note}\n" for note in done.notes)
    return (
        f"{time} ({done.outcome})\n{words}{notes}"
        f"{done.steps} steps in {done.wall_seconds:.0f} s, "
        f"relative error of the water volume {abs(done.volume_error):.1g}\n"
        f"{done.path}: written. Next: sinkbowl compare {done.path}"
    )


def estimate_figures(estimate: Estimate) -> dict[str, Any]:
    """An estimate as plain numbers, units in the keys."""
    across, up = estimate.finest.cells
    figures = {
        "cells": across * up,
        "cells_r": across,
        "cells_z": up,
        "steps": estimate.finest.steps,
        "duration_s": estimate.finest.duration,
        "wall_seconds": estimate.seconds,
        "processor_seconds": estimate.processor_seconds,
        "seconds_per_step": estimate.seconds_per_step,
        "steps_timed": estimate.steps_timed,
    }
    if estimate.runs == 1:
        return figures
    return figures | {
        "runs": estimate.runs,
        "members": estimate.members,
        "grids": [work.cells for work in estimate.grids],
        "workers": estimate.workers,
    }


def estimate_page(estimate: Estimate) -> str:
    """An estimate in words."""
    (across, up), grids = estimate.finest.cells, len(estimate.grids)
    what = f"{estimate.members} releases" if grids == 1 else f"{grids} grids"
    if min(estimate.members, grids) > 1:
        what = f"{estimate.members} releases on each of {grids} grids"
    several = f"all {estimate.runs} runs ({what}), {estimate.workers} side by side: "
    return (
        f"{across * up} cells ({across} x {up}), about {estimate.finest.steps} steps "
        f"to t = {estimate.finest.duration:.3g} s; {1e3 * estimate.seconds_per_step:.2g} ms "
        f"per step, from {estimate.steps_timed} measured steps\n"
        f"{several if estimate.runs > 1 else ''}about {_rounded(estimate.seconds)} at the present "
        f"load of this machine, {_rounded(estimate.processor_seconds)} of processor time"
    )


def _rounded(time: float) -> str:
    """A time [s] no finer than it is known."""
    return f"{time:.2g} s" if time < 100.0 else f"{time / 60.0:.2g} min"


def sweep_figures(sweep: Sweep) -> dict[str, Any]:
    """A sweep as plain numbers and strings: SI units, or units in the keys."""
    from sinkbowl.sweeps.index import INDEX

    return {
        "folder": str(sweep.folder),
        "index": str(sweep.folder / INDEX),
        "keys": list(sweep.keys),
        "runs": [_sweep_run_figures(sweep, run) for run in sweep.runs],
    }


def _sweep_run_figures(sweep: Sweep, run: SweepRun) -> dict[str, Any]:
    return {
        "name": run.name,
        "file": run.file,
        "values": dict(zip(sweep.keys, run.values, strict=True)),
        "written": dict(zip(sweep.keys, run.written, strict=True)),
        "status": run.status,
        "sinking_time_s": run.sinking_time,
        **figures(run.interval),
        "members": run.members,
        "outcome": run.outcome,
        "reason": run.reason,
        "wall_seconds": run.wall_seconds,
        "losses": run.losses,
    }


def sweep_page(sweep: Sweep) -> None:
    """Print the runs as a table, then the path of the index."""
    from sinkbowl.case.keys import shortened
    from sinkbowl.sweeps.index import INDEX

    longest = longest_of([run.sinking_time for run in sweep.runs], [r.interval for r in sweep.runs])
    rows = [(*map(shortened, run.written), *_sweep_cells(run, longest)) for run in sweep.runs]
    ends = ("status", "outcome, or reason for failure", "wall time")
    head = (*sweep.keys, "rim under (95 %)", *ends)
    status = head.index("status")
    print_table(TextTable(rows, sweep.title, head, words=(status, status + 1)))
    if words := interval_words([run.interval for run in sweep.runs]):
        print_out(words)
    done = len(sweep.with_status("finished"))
    print_out(f"{done} of {len(sweep.runs)} runs finished. {sweep.folder / INDEX}: written.")


def _sweep_cells(run: SweepRun, longest: float) -> tuple[str, str, str, str]:
    """Sinking time, status, outcome and wall time of a run."""
    lost = f" (restarted {run.losses} times)" if run.losses else ""
    return (
        "-" if run.sinking_time is None else time_text(run.sinking_time, run.interval, longest),
        run.status,
        (run.outcome or run.reason) + lost,
        "" if run.wall_seconds is None else f"{run.wall_seconds:.0f} s",
    )
