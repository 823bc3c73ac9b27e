"""``sinkbowl log``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl_post.commands.options import AsJson, Comma
from sinkbowl_post.pages.json_text import json_text
from sinkbowl_post.pages.telling import tell


def log(
    book: Annotated[Path, typer.Argument(metavar="BOOK", help="Table of trials, .csv, or a new.")],
    hole: Annotated[
        str | None, typer.Option(help='Diameter of the hole, "40 mm"; default: the case\'s.')
    ] = None,
    time: Annotated[
        str | None, typer.Option(help='From release until the rim is under, "0.52 s".')
    ] = None,
    plugged: Annotated[
        bool, typer.Option("--plugged", help="It stayed afloat with its hole dry: no time.")
    ] = False,
    mass: Annotated[
        str | None, typer.Option(help='Bowl and ballast, "212 g"; default: the case\'s.')
    ] = None,
    time_uncertainty: Annotated[
        str | None, typer.Option(help='Standard uncertainty of the time, "5 ms".')
    ] = None,
    case: Annotated[
        Path | None, typer.Option(help="Case file of the bowl: noted, and the time checked.")
    ] = None,
    comma: Comma = False,
    as_json: AsJson = False,
) -> None:
    """Add a trial to a table and say what all of them say by now.

    Writes date, the case's hash and the version beside it; prints the running mean with its
    interval, and whether the last trial is an outlier. Fit, compare, curves and chart read the
    table.

    Example: sinkbowl log trials.csv --hole "40 mm" --time "0.52 s" --case my-bowl.toml
    """
    from sinkbowl.case.case import load_case
    from sinkbowl.case.schema import LENGTH, MASS
    from sinkbowl_post.logbook.log import log_trial
    from sinkbowl_post.measured.measured import TIME, TIME_UNCERTAINTY
    from sinkbowl_post.pages.arguments import read_option
    from sinkbowl_post.pages.best_line import best_figures, best_line

    if (time is None) == (not plugged):
        raise CaseError(
            "Give either --time or --plugged", allowed='E.g. --time "0.52 s", or --plugged alone.'
        )
    if plugged and time_uncertainty is not None:
        raise CaseError("A trial that stayed plugged has no time: leave out --time-uncertainty")
    bowl = None if case is None else load_case(case)
    logged = log_trial(
        book,
        time=None if time is None else read_option("--time", time, TIME),
        hole=None if hole is None else read_option("--hole", hole, LENGTH),
        mass=None if mass is None else read_option("--mass", mass, MASS),
        time_uncertainty=None
        if time_uncertainty is None
        else read_option("--time-uncertainty", time_uncertainty, TIME_UNCERTAINTY),
        case=bowl,
        comma=comma,
    )
    if as_json:
        tell(json_text(logged.as_dict() | (best_figures(bowl) if bowl else {})))
        return
    line = best_line(bowl) if bowl else ""
    tell("\n".join(part for part in (repr(logged), line) if part))
