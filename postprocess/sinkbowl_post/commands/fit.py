"""``sinkbowl fit``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, CaseFile, Figures, Heading
from sinkbowl_post.pages.printing import print_measured


def fit(
    case: CaseFile,
    measured: Annotated[Path, typer.Option(help="Trials or trace, .csv.")],
    figures: Figures = None,
    heading: Heading = None,
    as_json: AsJson = False,
) -> None:
    """Fit the discharge coefficient to measured times.

    Shows which model the data support at which holes, and the contact angle from plugged trials.
    The table names its columns with units; all but the time may be left out:

    no., hole [mm], hole_uncertainty [mm], mass [g], mass_uncertainty [g], time [s],
    time_uncertainty [s], outcome (sinks, plugged, floats, tips or failed), remarks;
    or a trace: t [s], draft [mm], draft_uncertainty [mm].

    Example: sinkbowl fit my-bowl.toml --measured trials.csv -o fit.png
    """
    from sinkbowl.case.case import load_case
    from sinkbowl_post.fitting.fit import fit as fit_measured
    from sinkbowl_post.fitting.fit import fit_figures, fit_page
    from sinkbowl_post.pages.progress import step_bar

    loaded = load_case(case)
    with step_bar("models") as show:
        found = fit_measured(loaded, measured, figures or (), show, heading)
    print_measured(fit_figures(found) if as_json else fit_page(found), loaded)
