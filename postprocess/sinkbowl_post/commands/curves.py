"""``sinkbowl curves``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson
from sinkbowl_post.pages.json_text import json_text


def curves(
    places: Annotated[
        list[Path],
        typer.Argument(
            metavar="RESULTS",
            help="Result files, folders of them, or tables that this command wrote.",
        ),
    ],
    outputs: Annotated[
        list[Path] | None,
        typer.Option("--output", "-o", help="To write: .png, .svg or .csv; may be repeated."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Draw sinking time against hole over many runs.

    Tells where each reduced model holds, and why it stops.

    Example: sinkbowl curves holes/ -o curves.png -o curves.csv
    """
    from sinkbowl_post.curves.reading import read_points
    from sinkbowl_post.export.aside import written_aside
    from sinkbowl_post.pages.curves_page import curves_figures, curves_table, curves_words
    from sinkbowl_post.pages.progress import step_bar
    from sinkbowl_post.style import FIGURE_SUFFIXES, check_output

    for path in outputs or ():
        check_output(path, (*FIGURE_SUFFIXES, ".csv"))
    with step_bar("runs") as show:
        points, left_out = read_points(places, show)
    if as_json:
        typer.echo(json_text(curves_figures(points, left_out)))
    else:
        from rich.console import Console

        Console().print(curves_table(points))
        typer.echo("\n" + curves_words(points, left_out))
    for path in outputs or ():
        if path.suffix.lower() == ".csv":
            from sinkbowl_post.curves.table import csv_text

            with written_aside(path.parent) as aside:
                (aside / path.name).write_text(csv_text(points), encoding="utf-8")
        else:
            from sinkbowl_post.curves.figure import curves_figure
            from sinkbowl_post.style import save_figure

            save_figure(curves_figure(points), path)
