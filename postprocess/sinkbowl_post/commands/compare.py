"""``sinkbowl compare``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, Figures, ResultFile
from sinkbowl_post.pages.json_text import json_text


def compare(
    result: ResultFile,
    figures: Figures = None,
    measured: Annotated[
        Path | None,
        typer.Option(help="Measured trials or trace to set beside them, .csv; see fit --help."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Set a run beside the reduced models.

    Prints sinking times, their ratios and discharge coefficients; draws the curves.

    Example: sinkbowl compare my-bowl.h5 --measured trials.csv -o my-bowl.png
    """
    from sinkbowl.running.result import read_result
    from sinkbowl_post.compare.compare import compare as compare_models
    from sinkbowl_post.compare.compare import table
    from sinkbowl_post.measured.measured import read_measured
    from sinkbowl_post.measured.overlay import overlay_of
    from sinkbowl_post.style import FIGURE_SUFFIXES, check_output

    for path in figures or ():
        check_output(path, FIGURE_SUFFIXES)
    read = read_result(result)
    overlay = overlay_of(read.case, read_measured(measured)) if measured else None
    comparison = compare_models(read)
    time, beside = comparison.flow.sinking_time, {}
    rows = table(comparison)
    if overlay is not None:
        beside = {"measured": overlay.as_dict(time)}
        rows.add_row(*overlay.row(time))
    if as_json:
        typer.echo(json_text({**comparison.as_dict(), **beside}))
    else:
        from rich.console import Console

        Console().print(rows)
    if figures:
        from sinkbowl_post.compare.figure import comparison_figure
        from sinkbowl_post.style import save_figure

        figure = comparison_figure(comparison, read.case.bowl.rim_height, overlay)
        for path in figures:
            save_figure(figure, path)
