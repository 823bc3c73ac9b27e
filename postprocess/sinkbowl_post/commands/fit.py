"""``sinkbowl fit``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, CaseFile, Figures
from sinkbowl_post.pages.json_text import json_text


def fit(
    case: CaseFile,
    measured: Annotated[Path, typer.Option(help="Trials or trace, .csv.")],
    figures: Figures = None,
    as_json: AsJson = False,
) -> None:
    """Fit the discharge coefficient to measured times.

    Tells which model the data support over which holes, and the contact angle from plugged trials.
    The table names its columns with units; all but the time may be left out:

    hole [mm], hole_uncertainty [mm], mass [g], mass_uncertainty [g], time [s],
    time_uncertainty [s], outcome (sinks or plugged); or a trace: t [s], draft [mm],
    draft_uncertainty [mm].

    Example: sinkbowl fit my-bowl.toml --measured trials.csv -o fit.png
    """
    from sinkbowl.case.case import load_case
    from sinkbowl_post.measured.measured import read_measured
    from sinkbowl_post.pages.fit_page import fit_figures, fit_measured, fit_page
    from sinkbowl_post.pages.progress import step_bar
    from sinkbowl_post.style import FIGURE_SUFFIXES, check_output

    for path in figures or ():
        check_output(path, FIGURE_SUFFIXES)
    loaded, table = load_case(case), read_measured(measured)
    with step_bar("models") as show:
        found = fit_measured(loaded, table, show)
    typer.echo(json_text(fit_figures(found)) if as_json else fit_page(found))
    if figures:
        from sinkbowl_post.fit.figure import fit_figure
        from sinkbowl_post.style import save_figure

        figure = fit_figure(found)
        for path in figures:
            save_figure(figure, path)
