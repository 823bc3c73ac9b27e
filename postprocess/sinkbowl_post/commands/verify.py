"""``sinkbowl verify``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sinkbowl.common.errors import CaseError, RunError
from sinkbowl.common.shown import columns, percent
from sinkbowl_post.commands.options import AsJson
from sinkbowl_post.pages.printing import print_out

if TYPE_CHECKING:
    from sinkbowl.verification import VerificationCase

    Found = Mapping[str, Sequence[VerificationCase]]

HEADINGS = ("check", "reference", "computed", "error", "allowed", "verdict", "source")
"""Columns of the table."""


def verify(
    only: Annotated[
        list[str] | None,
        typer.Option("--only", help="Family of checks, e.g. waves; may be repeated."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Verify the flow solver against exact solutions and published values, on this machine.

    The exit status is 1 if a check fails.

    Example: sinkbowl verify --only added-mass
    """
    from sinkbowl.verification.suite import FAMILIES, run_suite
    from sinkbowl_post.pages.progress import step_bar

    for family in only or ():
        if family not in FAMILIES:
            raise CaseError(
                "is not a family of checks",
                key="--only",
                given=family,
                allowed=f"There are: {', '.join(FAMILIES)}.",
            )
    wanted = [family for family in FAMILIES if not only or family in only]
    with step_bar("checks") as show:
        found = run_suite(wanted, show)
    figures = _figures(found)
    print_out(figures if as_json else _page(found))
    short = [check["name"] for check in figures["checks"] if not check["passed"]]
    if short:
        raise RunError(f"{len(short)} of {len(figures['checks'])} fail: {'; '.join(short)}")


def _figures(found: Found) -> dict[str, Any]:
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


def _page(found: Found) -> str:
    """The verification cases of each family as a table, then the results on each grid."""
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
