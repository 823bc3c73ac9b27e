"""``sinkbowl report``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.pages.printing import print_out


def report(
    result: Annotated[
        Path, typer.Argument(metavar="RESULT", help="Result file, HDF5, or folder of a sweep.")
    ],
    output: Annotated[Path, typer.Option("--output", "-o", help="Page to write, .html.")],
    measured: Annotated[
        Path | None, typer.Option(help="Measured trials or trace of the run's bowl, .csv.")
    ] = None,
) -> None:
    """Write a report of a run or a sweep: one page for the browser.

    It has film, curves, times, the causes of each model's difference, measured trials, numerical
    checks and the origin of the run, all in one file.

    Example: sinkbowl report my-bowl.h5 -o my-bowl.html
    """
    from sinkbowl_post.pages.progress import film_bar
    from sinkbowl_post.reporting.report import report as write_report

    with film_bar() as show:
        write_report(result, output, show, measured)
    print_out(f"{output}: written")
