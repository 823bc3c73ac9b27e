"""The text of ``sinkbowl verify``: every check with its source, error and verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from sinkbowl.proof.rung import Rung

HEADINGS = ("check", "reference", "ours", "error", "allowed", "verdict", "source")
"""Columns of the table."""

Found = Mapping[str, Sequence[Rung]]


def verify_figures(found: Found) -> dict[str, Any]:
    """The rungs of each family as plain numbers, for JSON."""
    checks = [
        {"family": family, **asdict(rung), "error": rung.error, "passed": rung.passed}
        for family, rungs in found.items()
        for rung in rungs
    ]
    return {"passed": all(check["passed"] for check in checks), "checks": checks}


def verify_page(found: Found) -> str:
    """Set the rungs of each family as a table, then what each grid gave."""
    rungs = [rung for family in found.values() for rung in family]
    held = sum(rung.passed for rung in rungs)
    lines = [f"{held} of {len(rungs)} checks hold.", ""]
    lines += _table([HEADINGS, *(_row(rung) for rung in rungs)])
    lines += ["", "Error from grid to grid:"]
    lines += _table([_grid_row(rung) for rung in rungs if rung.grids])
    notes = [f"  {rung.name}: {rung.note.rstrip('.')}." for rung in rungs if rung.note]
    if notes:
        lines += ["", "Notes:", *notes]
    return "\n".join(lines)


def _row(rung: Rung) -> tuple[str, ...]:
    at_least = rung.kind == "at least"
    return (
        rung.name,
        f"{'>= ' if at_least else ''}{rung.reference:.5g} {rung.unit}".rstrip(),
        f"{rung.ours:.5g} {rung.unit}".rstrip(),
        "" if at_least else _percent(rung.error),
        "" if at_least and not rung.allowed else f"{100.0 * rung.allowed:.3g} %",
        "holds" if rung.passed else "FALLS SHORT",
        rung.source,
    )


def _grid_row(rung: Rung) -> tuple[str, ...]:
    """Name, then label and error of each grid."""
    cells = (f"{label} {_percent(value / rung.reference - 1.0)}" for label, value in rung.grids)
    return (rung.name, *cells)


def _percent(error: float) -> str:
    return f"{100.0 * error:+.2f} %"


def _table(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows as lines, every column as wide as its longest cell."""
    most = max((len(row) for row in rows), default=0)
    widths = [max(len(row[k]) for row in rows if k < len(row)) for k in range(most)]
    lines = []
    for row in rows:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, widths, strict=False))
        lines.append("  " + "  ".join(cells).rstrip())
    return lines
