"""The console script ``sinkbowl``: parse, call, print.

Exit status: 0 done, 1 the run itself failed, 2 the input is wrong. Heavy imports wait until a
command needs them, so that ``--help`` comes at once.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.errors import CaseError, RunError, SinkbowlError
from sinkbowl_post.json_text import json_text

INTERRUPTED = 130  # exit status that typer gives to Ctrl-C

app = typer.Typer(
    name="sinkbowl",
    help="Bowls that sink because they have a hole in the base: how long, and how.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file, TOML.")]
ResultFile = Annotated[Path, typer.Argument(metavar="RESULT", help="Result file, HDF5.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the figures as JSON.")]
Figures = Annotated[
    list[Path] | None,
    typer.Option("--output", "-o", help="Figure to write, .png or .svg; may be repeated."),
]


@app.command()
def new(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file to write.")],
    shape: Annotated[str, typer.Option(help="Of the bowl: cup, cone, cap or profile.")] = "cup",
) -> None:
    """Write a commented case to start from.

    Example: sinkbowl new my-bowl.toml --shape cone
    """
    from sinkbowl.starter import starter_case, starter_outline

    texts = {case: starter_case(shape)}
    if shape == "profile":
        texts[case.parent / "outline.csv"] = starter_outline()
    for path in texts:
        if path.exists():
            raise CaseError("Exists already", file=path, allowed="Give another name or folder.")
        if not path.parent.is_dir():
            raise CaseError("Its folder does not exist", file=path, allowed="Make it first.")
    for path, text in texts.items():
        path.write_text(text, encoding="utf-8")
    typer.echo(f"{', '.join(map(str, texts))}: written. Next: sinkbowl check {case}")


@app.command()
def check(
    case: CaseFile,
    spread: Annotated[
        bool, typer.Option("--spread", help="How far off the time can be, and what owns that.")
    ] = False,
    model: Annotated[
        str | None,
        typer.Option(help="With --spread: heave, quasi-static or falling; default: heave."),
    ] = None,
    difference: Annotated[
        str | None,
        typer.Option(help='With --spread: repeats that show this difference, e.g. "50 ms".'),
    ] = None,
    figure: Annotated[
        Path | None, typer.Option(help="Picture of centres and stability to write, .png or .svg.")
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Trial sheet to print and take to the tub, .pdf.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tell beforehand whether it sinks, starts, stays upright.

    Example: sinkbowl check my-bowl.toml --spread --sheet my-bowl.pdf
    """
    from sinkbowl.case import load_case
    from sinkbowl.checking import check as check_case
    from sinkbowl_post.arguments import DIFFERENCE, read_option
    from sinkbowl_post.check_page import check_page
    from sinkbowl_post.papers import check_papers, write_papers

    check_papers(figure, sheet)
    for option, given in (("--model", model), ("--difference", difference)):
        if given is not None and not spread:
            raise CaseError("belongs to --spread", key=option, given=given, allowed="Give both.")
    apart = None if difference is None else read_option("--difference", difference, DIFFERENCE)
    loaded = load_case(case)
    budget = None
    if spread:
        from sinkbowl.spread import spread as spread_case

        budget = spread_case(loaded, model or "heave", apart).as_dict()
    figures = check_case(loaded).as_dict()
    written = write_papers(loaded, figure, sheet)
    if as_json:
        typer.echo(json_text(figures if budget is None else {**figures, "spread": budget}))
        return
    typer.echo(check_page(figures))
    if budget is not None:
        from sinkbowl_post.spread_page import spread_page

        typer.echo("\n" + spread_page(budget))
    if written:
        typer.echo(f"\nwritten: {', '.join(map(str, written))}")


@app.command()
def size(
    case: CaseFile,
    time: Annotated[str, typer.Option(help='Wanted until the rim is under, e.g. "5 min".')],
    by: Annotated[str, typer.Option(help="What is sought: hole or ballast.")] = "hole",
    model: Annotated[str, typer.Option(help="To turn round: heave or quasi-static.")] = "heave",
    as_json: AsJson = False,
) -> None:
    """Find the hole, or the ballast, for a wanted time.

    Gives the nearest drills as well, and what their tolerance costs.

    Example: sinkbowl size my-bowl.toml --time "5 min"
    """
    from sinkbowl.case import load_case
    from sinkbowl.sizing import size as size_case
    from sinkbowl_post.arguments import SINKING_TIME, read_option
    from sinkbowl_post.size_page import size_page

    wanted = read_option("--time", time, SINKING_TIME)
    figures = size_case(load_case(case), wanted, by, model).as_dict()
    typer.echo(json_text(figures) if as_json else size_page(figures))


@app.command()
def run(
    case: CaseFile,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Result file to write; default: CASE with .h5, here."),
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace an existing result file.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Let the flow solver sink the bowl.

    Example: sinkbowl run my-bowl.toml -o my-bowl.h5
    """
    from sinkbowl.case import load_case
    from sinkbowl.record import check_target

    target = output or Path(case.stem + ".h5")
    loaded = load_case(case)
    check_target(target, overwrite)
    from sinkbowl.runner import run as run_case
    from sinkbowl_post.progress import run_bar
    from sinkbowl_post.run_page import run_figures, run_page

    with run_bar() as show:
        done = run_case(loaded, target, overwrite=overwrite, progress=show)
    if as_json:
        typer.echo(json_text(run_figures(done)))
    elif done.status == "finished":
        typer.echo(run_page(done))
    if done.status != "finished":
        raise RunError(f"{target}: the run {done.status}: {done.outcome}")


@app.command()
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
    from sinkbowl.result import read_result
    from sinkbowl_post.compare import compare as compare_models
    from sinkbowl_post.compare import table
    from sinkbowl_post.measured import read_measured
    from sinkbowl_post.measured_overlay import overlay_of
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
        from sinkbowl_post.compare_figure import comparison_figure
        from sinkbowl_post.style import save_figure

        figure = comparison_figure(comparison, read.case.bowl.rim_height, overlay)
        for path in figures:
            save_figure(figure, path)


@app.command()
def fit(
    case: CaseFile,
    measured: Annotated[Path, typer.Option(help="Trials or trace, .csv.")],
    figures: Figures = None,
    as_json: AsJson = False,
) -> None:
    """Fit the discharge coefficient to measured times.

    Tells which model the data support over which holes, and the contact angle from plugged trials.
    The table names its columns with units; all but the time may be left out:

    hole [mm], hole_uncertainty [mm], mass [g], mass_uncertainty [g], time [s],
    time_uncertainty [s], outcome (sinks or plugged); or a trace: t [s], draft [mm],
    draft_uncertainty [mm].

    Example: sinkbowl fit my-bowl.toml --measured trials.csv -o fit.png
    """
    from sinkbowl.case import load_case
    from sinkbowl_post.fit_page import fit_figures, fit_measured, fit_page
    from sinkbowl_post.measured import read_measured
    from sinkbowl_post.progress import step_bar
    from sinkbowl_post.style import FIGURE_SUFFIXES, check_output

    for path in figures or ():
        check_output(path, FIGURE_SUFFIXES)
    loaded, table = load_case(case), read_measured(measured)
    with step_bar("models") as show:
        found = fit_measured(loaded, table, show)
    typer.echo(json_text(fit_figures(found)) if as_json else fit_page(found))
    if figures:
        from sinkbowl_post.fit_figure import fit_figure
        from sinkbowl_post.style import save_figure

        figure = fit_figure(found)
        for path in figures:
            save_figure(figure, path)


@app.command()
def film(
    result: ResultFile,
    films: Annotated[
        list[Path], typer.Option("--output", "-o", help="Film, .mp4 or .gif; may be repeated.")
    ],
    colour: Annotated[str, typer.Option(help="What colours the water: speed or pressure.")] = (
        "speed"
    ),
) -> None:
    """Film the run, the bowl cut open.

    The bowl's depth against time runs along beside it.

    Example: sinkbowl film my-bowl.h5 -o my-bowl.mp4
    """
    from sinkbowl.result import read_result
    from sinkbowl_post.film import make_film
    from sinkbowl_post.progress import film_bar

    read = read_result(result)
    with film_bar() as show:
        make_film(read, films, colour, show)
    typer.echo("written: " + ", ".join(str(path) for path in films))


@app.command()
def export(
    result: ResultFile,
    output: Annotated[Path, typer.Option("--output", "-o", help="Table to write, .csv.")],
) -> None:
    """Write the history of a run as a table.

    Example: sinkbowl export my-bowl.h5 -o my-bowl.csv
    """
    from sinkbowl.result import read_result
    from sinkbowl_post.export import export_history

    rows = export_history(read_result(result), output)
    typer.echo(f"{output}: {rows} time steps")


@app.command()
def demo(
    folder: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Folder to make; default: sinkbowl-demo, here."),
    ] = None,
) -> None:
    """Check, run, compare and film a shipped bowl.

    Example: sinkbowl demo
    """
    from sinkbowl_post.demo import run_demo

    run_demo(folder, typer.echo)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; errors meant for people become one message and an exit status."""
    try:
        app(args=arguments)
    except SystemExit as end:
        if end.code == INTERRUPTED:
            _give_up("stopped by hand", 1)
        raise
    except RunError as error:
        _give_up(error, 1)
    except (SinkbowlError, OSError) as error:
        _give_up(error, 2)


def _give_up(error: Exception | str, status: int) -> None:
    print(f"sinkbowl: {error}", file=sys.stderr)
    sys.exit(status)
