"""``sinkbowl size``."""

from typing import Annotated

import typer

from sinkbowl_post.commands.options import AsJson, CaseFile
from sinkbowl_post.pages.printing import print_out


def size(
    case: CaseFile,
    time: Annotated[
        str | None, typer.Option(help='Wanted time until the rim is under, e.g. "5 min".')
    ] = None,
    by: Annotated[str, typer.Option(help="What to find: hole or ballast.")] = "hole",
    model: Annotated[
        str, typer.Option(help="Model: corrected, heave or quasi-static.")
    ] = "corrected",
    count: Annotated[
        int | None, typer.Option(help="Number of equal holes; default: the case's.")
    ] = None,
    upright: Annotated[
        str | None,
        typer.Option(help='Instead of --time: minimum metacentric height wanted, e.g. "1 mm".'),
    ] = None,
    step: Annotated[str, typer.Option(help="With --upright: steps of the ring's mass.")] = "10 g",
    as_json: AsJson = False,
) -> None:
    """Find the hole or the ballast for a wanted time, or the ring that keeps the bowl upright.

    Shows the nearest drills and the effect of their tolerance; with --upright, rings of lead,
    brass, steel and stainless steel under the bowl, and the effect of each step of mass.

    Example: sinkbowl size my-bowl.toml --time "5 min"
    """
    from sinkbowl.case.case import load_case
    from sinkbowl.common.errors import CaseError
    from sinkbowl.common.units import number_of
    from sinkbowl.design.sizing.sizing import SINKING_TIME
    from sinkbowl.design.sizing.sizing import size as size_case
    from sinkbowl.design.sizing.upright import size_upright
    from sinkbowl_post.commands.options import HEIGHT_WISHED, RING_STEP

    if (time is None) == (upright is None):
        raise CaseError(
            "and --upright are missing" if time is None else "is given together with --upright",
            key="--time",
            allowed='Give one of them: --time "5 min" or --upright "1 mm".',
        )
    if time is None:
        wished = number_of("--upright", str(upright), HEIGHT_WISHED)
        rings = size_upright(load_case(case), wished, number_of("--step", step, RING_STEP))
        print_out(rings.as_dict() if as_json else repr(rings))
        return
    wanted = number_of("--time", time, SINKING_TIME)
    sized = size_case(load_case(case), wanted, by, model, count)
    print_out(sized.as_dict() if as_json else repr(sized))
