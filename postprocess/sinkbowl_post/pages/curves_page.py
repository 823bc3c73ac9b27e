"""What ``sinkbowl curves`` prints: the runs as a table, and where each model holds in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sinkbowl.running.interval import figures, interval_words
from sinkbowl_post.curves.breakdown import breakdown
from sinkbowl_post.curves.points import RunPoint
from sinkbowl_post.style import seconds_with

if TYPE_CHECKING:
    from rich.table import Table


def curves_headings(points: Sequence[RunPoint]) -> tuple[str, ...]:
    """Headings of the table of runs."""
    return ("m/\u03c1V", "hole", "d/D", "flow solver", *points[0].models)


def curves_row(point: RunPoint) -> tuple[str, ...]:
    """One run against the models."""
    told = [point.deviation(model) for model in point.models]
    return (
        f"{point.mass_ratio:.2f}",
        f"{1e3 * point.hole:.3g} mm",
        f"{point.hole_ratio:.3f}",
        seconds_with(point.time, point.interval.half),
        *("" if d is None else f"{100 * d:+.1f} %" for d in told),
    )


def curves_table(points: Sequence[RunPoint]) -> Table:
    """Runs against the models, for the terminal."""
    from rich.table import Table

    table = Table(box=None, title="rim under after; model over flow", title_justify="left")
    for heading in curves_headings(points):
        table.add_column(heading, justify="right")
    for point in points:
        table.add_row(*curves_row(point))
    return table


def curves_words(points: Sequence[RunPoint], left_out: Sequence[str]) -> str:
    """Where each model holds, a line a region, and which runs are not in the curves."""
    lines = [interval_words([point.interval for point in points])]
    for region in breakdown(points):
        lines.append(f"{region.model}, m/\u03c1V {region.mass_ratio:.2f}, {region.words}")
    lines += [f"left out: {reason}" for reason in left_out]
    return "\n".join(lines)


def curves_figures(points: Sequence[RunPoint], left_out: Sequence[str]) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "runs": [
            {
                "result": str(point.path),
                "title": point.title,
                "hole_m": point.hole,
                "hole_ratio": point.hole_ratio,
                "mass_ratio": point.mass_ratio,
                "sinking_time_s": point.time,
                **figures(point.interval),
                "members": point.interval.members,
                "models_s": dict(point.models),
            }
            for point in points
        ],
        "regions": [
            {
                "model": region.model,
                "mass_ratio": region.mass_ratio,
                "hole_ratio_from": region.low,
                "hole_ratio_to": region.high,
                "within": region.within,
                "reasons": list(region.reasons),
            }
            for region in breakdown(points)
        ],
        "left_out": list(left_out),
    }
