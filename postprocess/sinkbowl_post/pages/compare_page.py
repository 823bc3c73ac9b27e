"""What ``sinkbowl compare`` prints: a row a model for one run, a row a run for several."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sinkbowl.scatter.interval import interval_words
from sinkbowl_post.comparing.compare import table
from sinkbowl_post.comparing.runs import Run
from sinkbowl_post.measured.trace_rms import rms_words
from sinkbowl_post.style import seconds_with

if TYPE_CHECKING:
    from rich.table import Table


def compare_page(runs: Sequence[Run]) -> Table:
    """The comparison as a table for the terminal."""
    if len(runs) > 1:
        return runs_table(runs)
    run = runs[0]
    rows = table(run.comparison)
    overlay = run.overlay
    if overlay is not None and (overlay.time is not None or overlay.failed):
        rows.add_row(*overlay.row(run.comparison.best_time))
    told = (rows.caption, rms_words(run.rms), overlay.suspect_words if overlay else "")
    if any(told):
        rows.caption = "\n".join(str(words) for words in told if words)
        rows.caption_justify = "left"
    return rows


def runs_table(runs: Sequence[Run]) -> Table:
    """Several runs, one a row: time, coefficient, and what models and trials have of that time."""
    from rich.table import Table

    models = list(runs[0].comparison.models)
    measured = any(run.overlay is not None for run in runs)
    rows = Table(
        title=f"{len(runs)} runs, and sinking times over the flow solver's",
        title_justify="left",
        title_style="bold",
        box=None,
    )
    headings = ["", "rim under", "C_d", *models, *(["measured", ""] if measured else [])]
    for place, heading in enumerate(headings):
        narrow = heading.replace("-", "-\n")
        rows.add_column(narrow, justify="right" if place else "left", no_wrap=not place)
    longest = max(run.comparison.best_time or 0.0 for run in runs)
    for run in runs:
        rows.add_row(*_cells(run, models, longest), *(_measured(run) if measured else ()))
    told = [interval_words([run.comparison.interval for run in runs])]
    told += [
        f"{run.label}: {run.overlay.suspect_words}"
        for run in runs
        if run.overlay and run.overlay.suspect_words
    ]
    rows.caption = "\n".join(words for words in told if words) or None
    rows.caption_justify = "left"
    return rows


def _cells(run: Run, models: Sequence[str], longest: float) -> list[str]:
    comparison = run.comparison
    time, coefficient = comparison.best_time, comparison.discharge["flow"]
    half = comparison.interval.half if comparison.interval else None
    ratios = [comparison.ratio(model) for model in models]
    return [
        run.label,
        comparison.flow.outcome if time is None else seconds_with(time, half, longest),
        "" if coefficient is None else f"{coefficient:.3f}",
        *("" if ratio is None else f"{ratio:.3f}" for ratio in ratios),
    ]


def _measured(run: Run) -> tuple[str, str]:
    """Ratio of the measured time to the flow solver's, and that time."""
    if run.overlay is None:
        return "", ""
    _, told, ratio, _ = run.overlay.row(run.comparison.best_time)
    return ratio, told
