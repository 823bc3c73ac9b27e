"""``sinkbowl film``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import ResultFile


def film(
    result: ResultFile,
    films: Annotated[
        list[Path], typer.Option("--output", "-o", help="Film, .mp4 or .gif; may be repeated.")
    ],
    colour: Annotated[
        str,
        typer.Option(help="What colours the water: speed, pressure, vorticity or none."),
    ] = "speed",
    tracers: Annotated[
        bool, typer.Option("--tracers", help="Show specks that drift with the water.")
    ] = False,
) -> None:
    """Film the run, the bowl cut open.

    The bowl's depth against time runs along beside it.

    Example: sinkbowl film my-bowl.h5 -o my-bowl.mp4 --tracers
    """
    from sinkbowl.running.result import read_result
    from sinkbowl_post.film.film import make_film
    from sinkbowl_post.pages.progress import film_bar

    read = read_result(result)
    with film_bar() as show:
        make_film(read, films, colour, show, tracers)
    typer.echo("written: " + ", ".join(str(path) for path in films))
