"""``sinkbowl sweep``."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sinkbowl.common.errors import CaseError, RunError
from sinkbowl_post.commands.options import AsJson, CaseFile, Members, Seed, check_members
from sinkbowl_post.pages.printing import print_out

if TYPE_CHECKING:
    from sinkbowl.sweeps.plan import Over


def sweep(
    case: CaseFile,
    over: Annotated[
        list[str] | None,
        typer.Option(
            help="Key and values: hole.diameter=6mm:92mm:12 (first:last:count, :log for equal "
            "ratios) or hole.diameter=6mm,10mm. Twice: all pairs."
        ),
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(
            help="Table with one row per run and one key per column, hole.diameter [mm]; .csv."
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Folder for index and results; default: CASE-sweep."),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Number of runs in parallel; default: one per core.")
    ] = None,
    levels: Annotated[
        int,
        typer.Option(
            "--grids",
            min=1,
            max=5,
            help="Number of grids per run: 3 to 5 for error bars, as `run --grids`; 1 for none.",
        ),
    ] = 1,
    members: Members = None,
    seed: Seed = None,
    cluster: Annotated[
        str | None, typer.Option(help="Scheduler of a dask cluster, tcp://HOST:8786.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Compute many sinkings that differ in a value or two.

    The same command, given again, computes what is missing.

    Example: sinkbowl sweep my-bowl.toml --over hole.diameter=6mm:40mm:8
    """
    if cluster is not None and workers is not None:
        raise CaseError(
            "is only for this machine",
            key="--workers",
            given=workers,
            allowed="The cluster has its own workers.",
        )
    count, first = check_members(members, seed)
    if levels == 2:
        raise CaseError("are too few grids", key="--grids", given=2, allowed="Give 1, or 3 to 5.")
    from sinkbowl.case.case import load_case
    from sinkbowl.sweeps.cluster import cluster_executor
    from sinkbowl.sweeps.sweeping import sweep as sweep_case
    from sinkbowl_post.pages.progress import queue_bar
    from sinkbowl_post.pages.run_page import sweep_figures, sweep_page

    loaded, wanted = load_case(case), _wanted(over, table)
    folder = output or Path(f"{case.stem}-sweep")
    with ExitStack() as stack:
        executor = None if cluster is None else stack.enter_context(cluster_executor(cluster))
        show = stack.enter_context(queue_bar("sweep, {done} of {total} runs"))
        done = sweep_case(
            loaded,
            wanted,
            folder,
            executor=executor,
            workers=workers,
            levels=levels,
            members=count,
            seed=first,
            progress=show,
        )
    if as_json:
        print_out(sweep_figures(done))
    else:
        sweep_page(done)
    missing = len(done.runs) - len(done.with_status("finished"))
    if missing:
        raise RunError(
            f"{folder}: {missing} of {len(done.runs)} runs are not finished. Give the same command "
            "again to compute them."
        )


def _wanted(over: list[str] | None, table: Path | None) -> Over:
    """The variation given by the options."""
    if bool(over) == (table is not None):
        raise CaseError("Give either --over or --table", allowed="See: sinkbowl sweep --help")
    if table is not None:
        from sinkbowl.sweeps.plan import read_runs

        return read_runs(table)
    found: dict[str, str] = {}
    for given in over or ():
        key, equals, values = given.partition("=")
        if not equals or key.strip() in found:
            raise CaseError(
                "is given twice" if equals else "names no values",
                key="--over",
                given=given,
                allowed="Write KEY=VALUES, each key once: hole.diameter=6mm:92mm:12",
            )
        found[key.strip()] = values
    return found
