"""``sinkbowl chart``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sinkbowl_post.commands.options import AsJson, CaseFile, Comma, Heading
from sinkbowl_post.pages.printing import print_out

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def chart(
    case: CaseFile,
    outputs: Annotated[
        list[Path] | None,
        typer.Option(
            "--output", "-o", help="File to write: .png, .pdf, .svg or .csv; may be repeated."
        ),
    ] = None,
    table: Annotated[
        Path | None, typer.Option("--csv", help="Table of the chart to write as well, .csv.")
    ] = None,
    measured: Annotated[
        Path | None, typer.Option(help="Measured trials to show on it, .csv; see fit --help.")
    ] = None,
    model: Annotated[
        str | None,
        typer.Option(help="Model of the times: corrected (default in its range) or heave."),
    ] = None,
    heading: Heading = None,
    comma: Comma = False,
    as_json: AsJson = False,
) -> None:
    """Draw a chart of hole and ballast with lines of equal time.

    Shows where the bowl floats, is plugged, tips, goes under at once, or falls so fast that only
    the flow solver is valid; preferred drills are ticks. A bowl without a ballast ring is charted
    over its own mass.

    Example: sinkbowl chart my-bowl.toml -o my-chart.png --measured trials.csv
    """
    from sinkbowl.case.case import load_case
    from sinkbowl.design.charting.chart import chart as chart_case
    from sinkbowl_post.chart.trials import trial_marks
    from sinkbowl_post.measured.measured import read_measured
    from sinkbowl_post.output import checked_outputs
    from sinkbowl_post.pages.chart_page import chart_csv, chart_figures, chart_page
    from sinkbowl_post.pages.progress import step_bar
    from sinkbowl_post.style import FIGURE_SUFFIXES, save_all

    wanted = checked_outputs(outputs or (), (*FIGURE_SUFFIXES, ".csv"))
    wanted += checked_outputs(table or (), (".csv",))
    loaded = load_case(case)
    marks = trial_marks(loaded, read_measured(measured)) if measured else ()
    narrowest = min((mark.hole for mark in marks), default=None)
    with step_bar("chart") as show:
        done = chart_case(loaded, model=model, narrowest=narrowest, progress=show)
    print_out(chart_figures(done) if as_json else chart_page(done))

    def draw() -> Figure:
        from sinkbowl_post.chart.figure import chart_figure

        return chart_figure(done, marks)

    save_all(wanted, draw, lambda: chart_csv(done, comma), heading, comma)
