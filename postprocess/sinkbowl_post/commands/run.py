"""``sinkbowl run``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import RunError
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
    resume: Annotated[
        bool,
        typer.Option("--resume", help="Go on with an interrupted run; begin where there is none."),
    ] = False,
    only_estimate: Annotated[
        bool, typer.Option("--estimate", help="Tell how long the run would take; write nothing.")
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

    Every few seconds the result is brought up to date, with a checkpoint. A run that was stopped or
    killed goes on with --resume, to the same numbers as without a break.
    """
    from sinkbowl.case.case import load_case
    from sinkbowl.files.target import check_target

    if resume and overwrite:
        raise typer.BadParameter("--resume keeps the result, --overwrite replaces it. Give one.")
    target = output or Path(case.stem + ".h5")
    loaded = load_case(case)
    if only_estimate:
        from sinkbowl.running.estimate import estimate
        from sinkbowl_post.pages.estimate_page import estimate_figures, estimate_page

        told = estimate(loaded)
        typer.echo(json_text(estimate_figures(told)) if as_json else estimate_page(told))
        return
    if not (resume and target.exists()):
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
        done = run_case(loaded, target, overwrite=overwrite, resume=resume, progress=show)
    if as_json:
        typer.echo(json_text(run_figures(done)))
    elif done.status == "finished":
        typer.echo(run_page(done))
    if done.status != "finished":
        raise RunError(f"{target}: the run {done.status}: {done.outcome}. Go on with --resume.")
