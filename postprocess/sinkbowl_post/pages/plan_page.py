"""The text of ``sinkbowl check --plan``: trials that distinguish the models, in random order."""

from collections.abc import Sequence
from textwrap import fill

from sinkbowl.common.shown import columns, millimetres, percent, seconds
from sinkbowl.design.budget.repeats import LEVEL, POWER
from sinkbowl.design.planning import FRAME_RATES, MOST_TRIALS, HoleTimes, Pair, Plan

A_LINE, WIDTH = 10, 96  # trials per line of the order; characters per line


def plan_page(plan: Plan, heeling: Sequence[str] = ()) -> str:
    """Set a plan as a page of text.

    heeling: sentences on how heeling changes the time of the bowl with its own hole.
    """
    phrase = [f"Times are for an upright bowl. With its own hole: {one}" for one in heeling]
    return "\n".join(
        [
            f"Trials that distinguish the models: {plan.title}",
            "",
            *_table(plan.holes),
            "scatter: from trial to trial, without timing; systematic: not reduced by repeats;",
            "flow: interval of one release by the flow solver, 95 %, from a table.",
            *(fill(one, WIDTH) for one in phrase),
            "",
            *(fill(_pair(pair), WIDTH, subsequent_indent="  ") for pair in plan.pairs),
            f"(t test of one sample, level {percent(LEVEL)}, power "
            f"{percent(POWER)}; 95 % of the systematic part is subtracted from a "
            "difference first.)",
            "",
            *_order(plan),
        ]
    )


def _table(holes: Sequence[HoleTimes]) -> list[str]:
    models = list(dict.fromkeys(model for hole in holes for model in hole.times))
    table = {
        "hole": [millimetres(hole.hole, 6) for hole in holes],
        **{model: _times([hole.times.get(model) for hole in holes]) for model in models},
        "scatter": _times([hole.scatter for hole in holes]),
        "systematic": _times([hole.systematic for hole in holes]),
        "flow": [f"\u00b1 {time}" for time in _times([hole.flow_half for hole in holes])],
    }
    return columns([list(table), *zip(*table.values(), strict=True)], words=())


def _times(column: Sequence[float | None]) -> list[str]:
    """A column of times [s] in one unit."""
    longest = max((time for time in column if time is not None), default=None)
    return ["-" if time is None else seconds(time, longest) for time in column]


def _pair(pair: Pair) -> str:
    """Sentence on two models: hole, difference, clock."""
    (one, other), how = pair.models, pair.distinction
    hole, apart = millimetres(pair.hole, 6), f"{seconds(pair.difference)} apart"
    if how is None:
        left = "all of which could be systematic"
        if pair.shown > 0.0:
            left = f"{seconds(pair.shown)} beyond the systematic part"
        return (
            f"- {one} against {other}: not by {MOST_TRIALS} trials of any hole, not "
            f"even with {FRAME_RATES[-1]} frames per second; clearest at "
            f"{hole}, {apart}, {left}. First reduce the uncertainty of hole, mass and "
            "discharge coefficient: time a narrow hole, at which the models agree."
        )
    clock = "a stopwatch is enough"
    if how.rate:
        clock = f"film at {how.rate} frames per second or more, a stopwatch is too coarse"
    judge = (
        ""
        if pair.flow_can_judge
        else " The flow solver's interval is wider than this difference: only trials can decide."
    )
    return (
        f"- {one} against {other}: {how.trials} trials with a {hole} hole, {apart}; {clock}.{judge}"
    )


def _order(plan: Plan) -> list[str]:
    trials = [f"{1e3 * hole:g}" for hole in plan.trials]
    if not trials:
        return ["There are no trials to make."]
    lines = [trials[k : k + A_LINE] for k in range(0, len(trials), A_LINE)]
    return [
        f"Order of the trials, holes in mm, drawn at random (--seed {plan.seed}):",
        *("  " + "  ".join(line) for line in lines),
        "The order is random, so that a drift (warming water, growing skill) does not look like an",
        "effect of the hole. Use one bowl for each hole: a drilled hole cannot become smaller.",
        "Clamp the bowl and wear eye protection. Keep mains and camera chargers away from the tub.",
    ]
