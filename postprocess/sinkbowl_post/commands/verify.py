"""``sinkbowl verify``."""

from __future__ import annotations

from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError, RunError
from sinkbowl_post.commands.options import AsJson
from sinkbowl_post.pages.telling import tell


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
    from sinkbowl_post.pages.verify_page import verify_figures, verify_page

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
    figures = verify_figures(found)
    tell(figures if as_json else verify_page(found))
    short = [check["name"] for check in figures["checks"] if not check["passed"]]
    if short:
        raise RunError(f"{len(short)} of {len(figures['checks'])} fail: {'; '.join(short)}")
