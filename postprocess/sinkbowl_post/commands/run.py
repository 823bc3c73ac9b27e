"""``sinkbowl run``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sinkbowl.common.errors import RunError
from sinkbowl_post.commands.options import AsJson, CaseFile, Members, Seed, check_members
from sinkbowl_post.pages.printing import print_out

if TYPE_CHECKING:
    from sinkbowl.case.case import Case


def run(
    case: CaseFile,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="Result file to write; default: the case's name with .h5, in this folder.",
        ),
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace an existing result file.")
    ] = False,
    resume: Annotated[
        bool,
        typer.Option("--resume", help="Continue an interrupted run; start one if there is none."),
    ] = False,
    only_estimate: Annotated[
        bool, typer.Option("--estimate", help="Estimate how long the run takes; write nothing.")
    ] = False,
    levels: Annotated[
        int | None,
        typer.Option(
            "--grids",
            min=3,
            max=5,
            help="Number of grids, the case's own and coarser ones, for an error bar.",
        ),
    ] = None,
    members: Members = None,
    seed: Seed = None,
    as_json: AsJson = False,
) -> None:
    """Compute a sinking with the flow solver.

    Example: sinkbowl run my-bowl.toml -o my-bowl.h5

    Example: sinkbowl run my-bowl.toml --members 8 --grids 3

    The result is updated every few seconds, with a checkpoint. --resume continues a run that was
    stopped or killed, and gives the same numbers as without a break. With --members or --grids
    the result appears when all runs are finished; until then they are beside it in hidden
    files.
    """
    from sinkbowl.case.case import load_case

    if resume and overwrite:
        raise typer.BadParameter("--resume keeps the result, --overwrite replaces it. Give one.")
    count, first = check_members(members, seed)
    target = output or Path(case.stem + ".h5")
    loaded = load_case(case)
    if only_estimate:
        _estimate(loaded, count, levels or 1, as_json)
        return
    if members or levels:
        _run_several(loaded, target, count, first, levels or 1, (overwrite, resume), as_json)
        return
    from sinkbowl.running.ensemble_runs import clear_beside_dead
    from sinkbowl.running.members import settle_leftovers
    from sinkbowl.running.runner import run as run_case
    from sinkbowl_post.pages.progress import run_bar
    from sinkbowl_post.pages.run_page import run_figures, run_page

    if overwrite:
        clear_beside_dead(target)
    settle_leftovers(target)
    with run_bar() as show:
        done = run_case(loaded, target, overwrite=overwrite, resume=resume, progress=show)
    if as_json:
        print_out(run_figures(done))
    elif done.status == "finished":
        print_out(run_page(done))
    if done.status != "finished":
        raise RunError(f"{target}: the run {done.status}: {done.outcome}. Continue with --resume.")


def _estimate(case: Case, members: int, levels: int, as_json: bool) -> None:
    """Print the estimate of one or several runs."""
    from sinkbowl.running.estimate import estimate
    from sinkbowl.running.process_pool import cores
    from sinkbowl_post.pages import run_page as page
    from sinkbowl_post.pages.progress import step_bar

    with step_bar("estimate") as show:
        found = estimate(case, members, levels, cores(), show)
    print_out(page.estimate_figures(found) if as_json else page.estimate_page(found))


def _run_several(
    case: Case,
    target: Path,
    members: int,
    seed: int,
    levels: int,
    kept: tuple[bool, bool],
    as_json: bool,
) -> None:
    """Compute an ensemble, several grids, or both; kept: whether to overwrite, to resume."""
    from sinkbowl.running.members import run_grids, run_members
    from sinkbowl.running.process_pool import cores
    from sinkbowl_post.pages import run_page as page
    from sinkbowl_post.pages.progress import queue_bar

    overwrite, resume = kept
    with queue_bar("{done} of {total} runs done") as show:
        if members == 1:
            grids = run_grids(
                case,
                target,
                levels,
                overwrite=overwrite,
                resume=resume,
                workers=cores(),
                progress=show,
            )
            text = page.grids_figures(grids) if as_json else page.grids_page(grids)
        else:
            several = run_members(
                case,
                target,
                members,
                seed=seed,
                levels=levels,
                overwrite=overwrite,
                resume=resume,
                progress=show,
            )
            text = page.members_figures(several) if as_json else page.members_page(several)
    print_out(text)
