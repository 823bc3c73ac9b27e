"""The text of ``sinkbowl check --plan``: trials that distinguish the models, in random order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import fill
from typing import Any

from sinkbowl.common.shown import columns, millimetres, percent, seconds

A_LINE, WIDTH = 10, 96
"""Trials in a line of the order; letters in a line."""


def plan_page(figures: Mapping[str, Any], heeling: Sequence[str] = ()) -> str:
    """Set the figures of a plan as a page of text.

    Parameters
    ----------
    figures : as ``Plan.as_dict()`` gives them, SI
    heeling : sentences on how heeling changes the time of the bowl with its own hole
    """
    told = [f"Times are for an upright bowl. With its own hole: {one}" for one in heeling]
    return "\n".join(
        [
            f"Trials that distinguish the models: {figures['title']}",
            "",
            *_table(figures["holes"]),
            "scatter: from trial to trial, without timing; systematic: not reduced by repeats;",
            "flow: interval of one release by the flow solver, 95 %, from a table.",
            *(fill(one, WIDTH) for one in told),
            "",
            *(fill(_pair(p, figures), WIDTH, subsequent_indent="  ") for p in figures["pairs"]),
            f"(t test of one sample, level {percent(figures['level'])}, power "
            f"{percent(figures['power'])}; 95 % of the systematic part is subtracted from a "
            "difference first.)",
            "",
            *_order(figures),
        ]
    )


def _table(holes: Sequence[Mapping[str, Any]]) -> list[str]:
    models = list(dict.fromkeys(model for hole in holes for model in hole["times"]))
    headings = ["hole", *models, "scatter", "systematic", "flow"]
    rows = [headings]
    for hole in holes:
        times = [seconds(hole["times"][m]) if m in hole["times"] else "-" for m in models]
        blur = [seconds(hole["scatter"]), seconds(hole["lasting"])]
        rows.append(
            [millimetres(hole["hole"], 6), *times, *blur, f"\u00b1 {seconds(hole['flow_half'])}"]
        )
    return columns(rows, words=())


def _pair(pair: Mapping[str, Any], figures: Mapping[str, Any]) -> str:
    """Two models in sentences: where, how far apart, by which clock."""
    one, other = pair["models"]
    hole = millimetres(pair["hole"], 6)
    apart = f"{seconds(pair['difference'])} apart"
    how = pair["telling"]
    if how is None:
        left = "all of which could be systematic"
        if pair["shown"] > 0.0:
            left = f"{seconds(pair['shown'])} beyond the systematic part"
        return (
            f"- {one} against {other}: not by {figures['most_trials']} trials of any hole, not "
            f"even with {figures['highest_frame_rate']} frames per second; clearest at "
            f"{hole}, {apart}, {left}. First reduce the uncertainty of hole, mass and "
            "discharge coefficient: time a narrow hole, at which the models agree."
        )
    clock = "a stopwatch is enough"
    if how["rate"]:
        clock = f"film at {how['rate']} frames per second or more, a stopwatch is too coarse"
    judge = (
        ""
        if pair["flow_can_judge"]
        else " The flow solver's interval is wider than this difference: only trials can decide."
    )
    return (
        f"- {one} against {other}: {how['trials']} trials with a {hole} hole, "
        f"{apart}; {clock}.{judge}"
    )


def _order(figures: Mapping[str, Any]) -> list[str]:
    trials = [f"{1e3 * hole:g}" for hole in figures["trials"]]
    if not trials:
        return ["There are no trials to make."]
    lines = [trials[k : k + A_LINE] for k in range(0, len(trials), A_LINE)]
    return [
        f"Order of the trials, holes in mm, drawn at random (--seed {figures['seed']}):",
        *("  " + "  ".join(line) for line in lines),
        "The order is random, so that a drift (warming water, growing skill) does not look like an",
        "effect of the hole. Use one bowl for each hole: a drilled hole cannot become smaller.",
        "Clamp the bowl and wear eye protection. Keep mains and camera chargers away from the tub.",
    ]
