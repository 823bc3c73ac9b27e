"""``sinkbowl log``."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl_post.commands.options import AsJson, Comma
from sinkbowl_post.pages.printing import print_measured, print_out


def log(
    book: Annotated[
        Path, typer.Argument(metavar="BOOK", help="Table of trials, .csv; created if missing.")
    ],
    hole: Annotated[
        str | None, typer.Option(help='Diameter of the hole, "40 mm"; default: the case\'s.')
    ] = None,
    time: Annotated[
        str | None, typer.Option(help='From release until the rim is under, "0.52 s".')
    ] = None,
    plugged: Annotated[
        bool, typer.Option("--plugged", help="The bowl floated with its hole dry: no time.")
    ] = False,
    mass: Annotated[
        str | None, typer.Option(help='Bowl and ballast, "212 g"; default: the case\'s.')
    ] = None,
    time_uncertainty: Annotated[
        str | None, typer.Option(help='Standard uncertainty of the time, "5 ms".')
    ] = None,
    case: Annotated[
        Path | None,
        typer.Option(help="Case file of the bowl: it is noted, and the time is checked."),
    ] = None,
    outcome: Annotated[
        str | None,
        typer.Option(help="Outcome of a trial without a time: floats, tips or failed."),
    ] = None,
    remarks: Annotated[str | None, typer.Option(help="Remarks for the row.")] = None,
    undo: Annotated[
        bool, typer.Option("--undo", help="Remove the last row instead of adding one.")
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Write a suspect trial without a question.")
    ] = False,
    comma: Comma = False,
    as_json: AsJson = False,
) -> None:
    """Add a trial to a table and show the mean of all trials.

    Writes date, the case's hash and the version beside it; prints the running mean with its
    interval, and whether the last trial is an outlier. Asks before it writes a time that is far
    off the others or the model. Fit, compare, curves and chart read the table.

    Example: sinkbowl log trials.csv --hole "40 mm" --time "0.52 s" --case my-bowl.toml

    Example: sinkbowl log trials.csv --undo
    """
    from sinkbowl.case.schema import LENGTH, MASS
    from sinkbowl.common.units import number_of
    from sinkbowl_post.logbook.book import undo_trial
    from sinkbowl_post.logbook.log import log_trial
    from sinkbowl_post.measured.measured import PLUGGED, TIME, TIME_UNCERTAINTY

    if undo:
        if time or plugged or outcome:
            raise CaseError(
                "is given together with a trial", key="--undo", allowed="Leave out one of them."
            )
        print_out(f"Removed: {undo_trial(book)}")
        return
    if sum((time is not None, plugged, outcome is not None)) != 1:
        raise CaseError(
            "Give either --time or --plugged, or another --outcome",
            allowed='E.g. --time "0.52 s", or --plugged alone, or --outcome tips.',
        )
    if time is None and time_uncertainty is not None:
        raise CaseError("A trial that did not sink has no time: leave out --time-uncertainty")
    logged = log_trial(
        book,
        time=None if time is None else number_of("--time", time, TIME),
        hole=None if hole is None else number_of("--hole", hole, LENGTH),
        mass=None if mass is None else number_of("--mass", mass, MASS),
        time_uncertainty=None
        if time_uncertainty is None
        else number_of("--time-uncertainty", time_uncertainty, TIME_UNCERTAINTY),
        outcome=PLUGGED if plugged else outcome,
        remarks=remarks,
        case=case,
        comma=comma,
        doubted=None if yes else _ask,
    )
    print_measured(logged.as_dict() if as_json else repr(logged), logged.case)


def _ask(doubt: str) -> None:
    """Ask whether to write a suspect trial; without a terminal it is not written."""
    if not sys.stdin.isatty():
        raise CaseError(
            f"{doubt.rstrip('.')}. It was not written", allowed="Give --yes to write it as it is."
        )
    print_out(doubt)
    if not typer.confirm("Write it anyway?"):
        print_out("It was not written.")
        raise typer.Exit(1)
