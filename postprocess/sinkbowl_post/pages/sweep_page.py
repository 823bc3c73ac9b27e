"""Texts and numbers of ``sinkbowl sweep``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sinkbowl.common.shown import TextTable
from sinkbowl.scatter.interval import figures, interval_words, time_text
from sinkbowl_post.pages.printing import print_out, print_table

if TYPE_CHECKING:
    from sinkbowl.sweeps.index import Sweep, SweepRun


def sweep_figures(sweep: Sweep) -> dict[str, Any]:
    """A sweep as plain numbers and strings: SI units, or units in the keys."""
    from sinkbowl.sweeps.index import INDEX

    return {
        "folder": str(sweep.folder),
        "index": str(sweep.folder / INDEX),
        "keys": list(sweep.keys),
        "runs": [_figures(sweep, run) for run in sweep.runs],
    }


def _figures(sweep: Sweep, run: SweepRun) -> dict[str, Any]:
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

    rows = [(*map(shortened, run.written), *_cells(run)) for run in sweep.runs]
    ends = ("status", "outcome, or reason for failure", "wall time")
    head = (*sweep.keys, "rim under (95 %)", *ends)
    status = head.index("status")
    print_table(TextTable(rows, sweep.title, head, words=(status, status + 1)))
    if words := interval_words([run.interval for run in sweep.runs]):
        print_out(words)
    done = len(sweep.with_status("finished"))
    print_out(f"{done} of {len(sweep.runs)} runs finished. {sweep.folder / INDEX}: written.")


def _cells(run: SweepRun) -> tuple[str, str, str, str]:
    """Sinking time, status, outcome and wall time of a run."""
    lost = f" (restarted {run.losses} times)" if run.losses else ""
    return (
        "-" if run.sinking_time is None else time_text(run.sinking_time, run.interval),
        run.status,
        (run.outcome or run.reason) + lost,
        "" if run.wall_seconds is None else f"{run.wall_seconds:.0f} s",
    )
