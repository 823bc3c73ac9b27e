"""``sinkbowl curves``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, Comma, Heading
from sinkbowl_post.pages.printing import print_out, print_table


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
        typer.Option(
            "--output", "-o", help="File to write: .png, .svg, .pdf or .csv; may be repeated."
        ),
    ] = None,
    reasons: Annotated[
        Path | None,
        typer.Option(
            help="Figure of the causes of the models' differences to write, .png or .svg."
        ),
    ] = None,
    measured: Annotated[
        Path | None,
        typer.Option(help="Measured trials to show on both panels, .csv; see fit --help."),
    ] = None,
    case: Annotated[
        Path | None,
        typer.Option(help="Case of the bowl, needed for tables; default: from the results."),
    ] = None,
    model: Annotated[
        str, typer.Option(help="Model of the smooth curves: corrected or heave.")
    ] = "corrected",
    heading: Heading = None,
    comma: Comma = False,
    as_json: AsJson = False,
) -> None:
    """Draw sinking time against hole for many runs.

    Shows where each reduced model is valid, and the causes of its difference elsewhere.

    Example: sinkbowl curves holes/ -o curves.png --reasons reasons.png --measured trials.csv
    """
    from sinkbowl_post.pages.progress import step_bar
    from sinkbowl_post.reference_curves.curves import curves as draw_curves
    from sinkbowl_post.reference_curves.curves import curves_words

    with step_bar("runs") as show:
        drawn = draw_curves(
            places, outputs or (), show, reasons, measured, case, heading, comma, model
        )
    if as_json:
        print_out(drawn.as_dict())
    else:
        print_table(drawn.table)
        print_out("\n" + curves_words(drawn.points, drawn.left_out))
        for trial in drawn.trials:
            if trial.timed.suspect_words:
                print_out(trial.timed.suspect_words)
