"""``sinkbowl film``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import Heading
from sinkbowl_post.pages.printing import print_out


def film(
    results: Annotated[
        list[Path],
        typer.Argument(metavar="RESULT", help="Result files, HDF5: one, or up to four at once."),
    ],
    films: Annotated[
        list[Path],
        typer.Option("--output", "-o", help="Film, .mp4 or .gif, or still, .png; may be repeated."),
    ],
    colour: Annotated[
        str,
        typer.Option(help="Quantity that colours the water: speed, pressure, vorticity or none."),
    ] = "speed",
    tracers: Annotated[
        bool, typer.Option("--tracers", help="Show tracers that drift with the water.")
    ] = False,
    model: Annotated[
        str | None,
        typer.Option(
            help="Show the levels of a reduced model as well: heave, quasi-static, falling."
        ),
    ] = None,
    half_cut: Annotated[
        bool, typer.Option("--half-cut", help="Show half of the bowl in three dimensions.")
    ] = False,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Number of processes; default: one per core.")
    ] = None,
    heading: Heading = None,
) -> None:
    """Make a film of the run, with the bowl in section.

    A curve of the bowl's depth against time runs beside it. Several runs are
    shown side by side, on one scale and one clock.

    Example: sinkbowl film my-bowl.h5 -o my-bowl.mp4 --tracers

    Example: sinkbowl film wide.h5 narrow.h5 -o both.mp4 --model heave
    """
    from sinkbowl.files.result import read_result
    from sinkbowl_post.filming.film import film as film_runs
    from sinkbowl_post.pages.progress import film_bar

    read = [read_result(path) for path in results]
    with film_bar() as show:
        film_runs(
            read,
            films,
            colour=colour,
            tracers=tracers,
            model=model,
            half_cut=half_cut,
            progress=show,
            workers=workers,
            heading=heading,
        )
    print_out("written: " + ", ".join(str(path) for path in films))
