"""``sinkbowl check``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl_post.commands.options import AsJson, CaseFile, Heading
from sinkbowl_post.pages.printing import print_out


def check(
    case: CaseFile,
    uncertainty: Annotated[
        bool,
        typer.Option("--uncertainty", help="Uncertainty of the time, and its contributions."),
    ] = False,
    model: Annotated[
        str | None,
        typer.Option(help="With --uncertainty: corrected (default), heave, quasi-static, falling."),
    ] = None,
    difference: Annotated[
        str | None,
        typer.Option(
            help='With --uncertainty: number of repeats that show this difference, e.g. "50 ms".'
        ),
    ] = None,
    plan: Annotated[
        bool,
        typer.Option(
            "--plan", help="Plan of trials that distinguish the models: holes, clock, number."
        ),
    ] = False,
    seed: Annotated[
        int | None, typer.Option(min=0, help="With --plan: seed of the random order; default: 1.")
    ] = None,
    figure: Annotated[
        Path | None,
        typer.Option(help="Figure of centres and stability to write, .png, .svg or .pdf."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Trial sheet to print for the tub, .pdf.")
    ] = None,
    heading: Heading = None,
    as_json: AsJson = False,
) -> None:
    """Check before the trial: does it sink, start and stay upright?

    Example: sinkbowl check my-bowl.toml --uncertainty --sheet my-bowl.pdf
    """
    from sinkbowl.case.case import load_case
    from sinkbowl.common.units import number_of
    from sinkbowl.design.check_page import check_page, heel_words
    from sinkbowl.design.checking import check as check_case
    from sinkbowl_post.commands.options import DIFFERENCE
    from sinkbowl_post.output import checked_outputs
    from sinkbowl_post.style import FIGURE_SUFFIXES, SHEET_SUFFIXES, save_figure

    checked_outputs(figure or (), FIGURE_SUFFIXES)
    checked_outputs(sheet or (), SHEET_SUFFIXES)
    for option, given in (("--model", model), ("--difference", difference)):
        if given is not None and not uncertainty:
            raise CaseError(
                "belongs to --uncertainty", key=option, given=given, allowed="Give both."
            )
    for option, needed, missing in (
        ("--seed", "--plan", seed is not None and not plan),
        ("--title", "--figure", heading is not None and figure is None),
    ):
        if missing:
            raise CaseError(f"belongs to {needed}", key=option, allowed="Give both.")
    apart = None if difference is None else number_of("--difference", difference, DIFFERENCE)
    loaded = load_case(case)
    budget = trials = None
    if plan or uncertainty or figure is not None or sheet is not None:
        from sinkbowl_post.pages.progress import step_bar
    if plan:
        from sinkbowl.design.planning import SEED
        from sinkbowl.design.planning import plan as plan_trials

        with step_bar("holes") as show:
            trials = plan_trials(loaded, SEED if seed is None else seed, show)
    if uncertainty:
        from sinkbowl.design.budget.uncertainty import error_budget

        with step_bar("uncertainty") as show:
            budget = error_budget(loaded, model or "corrected", apart, show)
    figures = check_case(loaded).as_dict()
    if figure is not None or sheet is not None:
        parts = 1 + (figure is not None) + (sheet is not None)
        with step_bar("check") as show:
            show(1, parts)
            if figure is not None:
                from sinkbowl_post.check.figure import check_figure

                save_figure(check_figure(loaded), figure, heading)
                show(2, parts)
            if sheet is not None:
                from sinkbowl_post.check.sheet import trial_sheet
                from sinkbowl_post.check.sheet_pdf import write_sheet

                write_sheet(trial_sheet(loaded), sheet)
    if as_json:
        budget_figures = budget.as_dict() if budget else None
        more = {
            "uncertainty": budget_figures,
            "plan": trials.as_dict() if trials else None,
            "trial": budget_figures["trial"] if budget_figures else None,
        }
        print_out(figures | {name: part for name, part in more.items() if part is not None})
        return
    print_out(check_page(figures))
    if budget is not None:
        from sinkbowl_post.pages.uncertainty_page import uncertainty_page

        print_out("\n" + uncertainty_page(budget))
    if trials is not None:
        from sinkbowl_post.pages.plan_page import plan_page

        print_out("\n" + plan_page(trials, heel_words(figures)))
    if figure or sheet:
        print_out(f"\nwritten: {', '.join(str(path) for path in (figure, sheet) if path)}")
