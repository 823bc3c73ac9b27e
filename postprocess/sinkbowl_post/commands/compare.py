"""``sinkbowl compare``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, Comma, Figures, Heading
from sinkbowl_post.pages.printing import print_line, print_out, print_table


def compare(
    results: Annotated[
        list[Path], typer.Argument(metavar="RESULT", help="Result files, HDF5, one or several.")
    ],
    figures: Figures = None,
    measured: Annotated[
        Path | None,
        typer.Option(help="Measured trials or trace to compare, .csv; see fit --help."),
    ] = None,
    forces: Annotated[
        Path | None,
        typer.Option(help="Figure of one run's forces and discharge coefficient to write."),
    ] = None,
    stages: Annotated[
        Path | None,
        typer.Option(help="Slide of one run's free bell, filling annulus and submerged jet."),
    ] = None,
    heading: Heading = None,
    comma: Comma = False,
    as_json: AsJson = False,
) -> None:
    """Compare a run with the reduced models, or several runs with each other.

    Prints sinking times, their ratios and discharge coefficients, and for one run the causes of
    each model's difference; draws the curves.

    Example: sinkbowl compare my-bowl.h5 --measured trials.csv -o my-bowl.png

    Example: sinkbowl compare wide.h5 narrow.h5 -o both.png
    """
    from sinkbowl.common.errors import ResultError
    from sinkbowl_post.comparing.runs import read_runs
    from sinkbowl_post.output import checked_outputs
    from sinkbowl_post.pages.progress import step_bar
    from sinkbowl_post.style import FIGURE_SUFFIXES, save_figure

    slides = {"--forces": forces, "--stages": stages}
    checked_outputs([*(figures or ()), *filter(None, slides.values())], FIGURE_SUFFIXES)
    for option, path in slides.items():
        if path and len(results) > 1:
            raise ResultError(f"{option} {path}: shows one run; given are {len(results)}.")
    with step_bar("compare") as show:
        runs = read_runs(results, measured, show)
    if as_json:
        run_figures = [run.comparison.as_dict() for run in runs]
        print_out(run_figures[0] if len(run_figures) == 1 else {"runs": run_figures})
    else:
        from sinkbowl_post.pages.compare_page import compare_page, reasons_table, reasons_words

        print_table(compare_page(runs))
        why = reasons_table(runs[0].comparison) if len(runs) == 1 else None
        if why is not None:
            print_out()
            print_table(why)
            for line in reasons_words(runs[0].comparison):
                print_line(line)
    if figures:
        from sinkbowl_post.comparing.figure import comparison_figure
        from sinkbowl_post.comparing.runs_figure import runs_figure

        one = len(runs) == 1
        figure = comparison_figure(runs[0].comparison) if one else runs_figure(runs)
        for path in figures:
            save_figure(figure, path, heading, comma)
    if forces:
        from sinkbowl_post.comparing.forces import forces_figure

        save_figure(forces_figure(runs[0].result), forces, comma=comma)
    if stages:
        from sinkbowl_post.filming.stages_figure import stages_figure

        save_figure(stages_figure(runs[0].result), stages, comma=comma)
