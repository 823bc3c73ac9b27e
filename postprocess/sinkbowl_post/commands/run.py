"""``sinkbowl run``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.errors import RunError
from sinkbowl_post.commands.options import AsJson, CaseFile
from sinkbowl_post.pages.json_text import json_text


def run(
    case: CaseFile,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Result file to write; default: CASE with .h5, here."),
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace an existing result file.")
    ] = False,
    levels: Annotated[
        int | None,
        typer.Option(
            min=3,
            max=5,
            help="Run this many grids, the case's own and coarser ones, for an error bar.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Let the flow solver sink the bowl.

    Example: sinkbowl run my-bowl.toml -o my-bowl.h5
    """
    from sinkbowl.case.case import load_case
    from sinkbowl.running.record import check_target

    target = output or Path(case.stem + ".h5")
    loaded = load_case(case)
    check_target(target, overwrite)
    from sinkbowl.running.runner import run as run_case
    from sinkbowl_post.pages.progress import run_bar
    from sinkbowl_post.pages.run_page import levels_figures, levels_page, run_figures, run_page

    if levels is not None:
        from sinkbowl.running.levels import run_levels

        with run_bar() as show:
            several = run_levels(loaded, target, levels, overwrite=overwrite, progress=show)
        typer.echo(json_text(levels_figures(several)) if as_json else levels_page(several))
        return
    with run_bar() as show:
        done = run_case(loaded, target, overwrite=overwrite, progress=show)
    if as_json:
        typer.echo(json_text(run_figures(done)))
    elif done.status == "finished":
        typer.echo(run_page(done))
    if done.status != "finished":
        raise RunError(f"{target}: the run {done.status}: {done.outcome}")
