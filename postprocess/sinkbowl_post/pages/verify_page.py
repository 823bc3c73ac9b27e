"""The text of ``sinkbowl verify``: every check with its source, error and verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from sinkbowl.common.shown import columns, percent
from sinkbowl.verification.verification_case import VerificationCase

HEADINGS = ("check", "reference", "computed", "error", "allowed", "verdict", "source")
"""Columns of the table."""

Found = Mapping[str, Sequence[VerificationCase]]


def verify_figures(found: Found) -> dict[str, Any]:
    """The verification cases of each family as plain numbers, for JSON."""
    checks = [
        {
            "family": family,
            **asdict(check),
            "error": check.error,
            "passed": check.passed,
        }
        for family, checks in found.items()
        for check in checks
    ]
    return {"passed": all(check["passed"] for check in checks), "checks": checks}


def verify_page(found: Found) -> str:
    """Set the verification cases of each family as a table, then what each grid gave."""
    checks = [check for family in found.values() for check in family]
    held = sum(check.passed for check in checks)
    lines = [f"{held} of {len(checks)} checks pass.", ""]
    lines += columns([HEADINGS, *(_row(check) for check in checks)])
    lines += ["", "Error from grid to grid:"]
    lines += columns([_grid_row(check) for check in checks if check.grids])
    notes = [f"  {check.name}: {check.note.rstrip('.')}." for check in checks if check.note]
    if notes:
        lines += ["", "Notes:", *notes]
    return "\n".join(lines)


def _row(check: VerificationCase) -> tuple[str, ...]:
    at_least = check.kind == "at least"
    return (
        check.name,
        f"{'>= ' if at_least else ''}{check.reference:.5g} {check.unit}".rstrip(),
        f"{check.ours:.5g} {check.unit}".rstrip(),
        "" if at_least else percent(check.error, "+.2f"),
        "" if at_least and not check.allowed else percent(check.allowed),
        "passes" if check.passed else "FAILS",
        check.source,
    )


def _grid_row(check: VerificationCase) -> tuple[str, ...]:
    """Name, then label and error of each grid."""
    cells = (
        f"{label} {percent(value / check.reference - 1.0, '+.2f')}" for label, value in check.grids
    )
    return (check.name, *cells)
