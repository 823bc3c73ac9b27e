"""The report of a sweep: one HTML file with the curves, a film of some runs, a table of all.

The conclusion has three sentences: times, best model, cause of its error.
"""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from sinkbowl.case.case import parse_case
from sinkbowl.files.result import Result, read_result
from sinkbowl.reduced import MODELS
from sinkbowl.scatter.interval import time_text
from sinkbowl.sweeps.index import Sweep
from sinkbowl_post.reference_curves.breakdown import LEVELS, WITHIN, breakdown, verdict_of
from sinkbowl_post.reference_curves.curves import curves_table, curves_words
from sinkbowl_post.reference_curves.figure import curves_figure
from sinkbowl_post.reference_curves.points import RunPoint
from sinkbowl_post.reference_curves.table import read_points
from sinkbowl_post.reporting.html_page import check_values, figure_url, film_urls, write_page

IN_FILM = 3  # number of runs in the film


def sweep_report(
    sweep: Sweep, output: Path, progress: Callable[[int, int], None] | None = None
) -> None:
    """Write the report of a sweep, as `report` does, with its errors."""
    points, left_out = read_points([sweep.folder])
    results = [read_result(point.path) for point in points]
    case = parse_case(sweep.case_text, sweep.folder, "case.toml")
    shown = _shown([result for result in results if len(result.frames) > 1])
    film, still = film_urls(shown, progress) if shown else ("", "")
    write_page(
        output,
        "sweep.html",
        title=sweep.title,
        lead=_lead(points, mass_words([result.case.total_mass for result in results])),
        film=film,
        still=still,
        film_words="Film of bowls in section, side by side at the same instant, with holes of "
        f"{', '.join(f'{1e3 * result.case.hole.diameter:.3g} mm' for result in shown)}.",
        **check_values(case),
        curves=figure_url(curves_figure(points)),
        curves_words="Left: sinking time in units of sqrt(H/g) against hole over bowl, dots the "
        "flow solver with the interval of one release, lines the reduced models. Right: how far "
        "off each model is.",
        conclusion=conclusion(points),
        regions=curves_words(points, left_out).splitlines(),
        runs=curves_table(points),
        health=_health(results),
        provenance=_provenance(sweep, results),
        case_text=sweep.case_text,
    )


def _shown(results: Sequence[Result]) -> list[Result]:
    """A few runs from the narrowest hole to the widest."""
    by_hole = {result.case.hole.diameter: result for result in results}
    holes = sorted(by_hole)
    places = np.linspace(0, len(holes) - 1, min(IN_FILM, len(holes))) if holes else ()
    return [by_hole[holes[round(place)]] for place in places]


def _lead(points: Sequence[RunPoint], mass: str) -> str:
    ordered = sorted(points, key=lambda point: point.time)
    quickest, slowest = (time_text(p.time, p.interval) for p in (ordered[0], ordered[-1]))
    if len(points) == 1:
        return f"One bowl of {mass}, under after {quickest}."
    return f"{len(points)} bowls of {mass}, under after {quickest} to {slowest}."


def _health(results: Sequence[Result]) -> list[tuple[str, str]]:
    """Worst values of all runs."""
    kept = [np.abs(result.history["volume_error"]).max() for result in results]
    drift = [abs(result.history["momentum_error"][-1]) for result in results]
    warned = sum(bool(result.grids_warning) for result in results)
    return [
        ("water lost or gained, at most", f"{max(kept):.1e} of all the water"),
        (
            "error of the momentum balance at the end, at most",
            f"{100 * max(drift):.2g} % of the weight's impulse",
        ),
        ("runs on several grids", f"{sum(result.grids > 1 for result in results)}"),
        ("of these, grids that do not converge", f"{warned}"),
    ]


def _provenance(sweep: Sweep, results: Sequence[Result]) -> list[tuple[str, str]]:
    versions = sorted({str(result.attrs["tool_version"]) for result in results})
    missing = [run.name for run in sweep.runs if run.status != "finished"]
    return [
        ("folder", sweep.folder.name),
        ("varied", ", ".join(sweep.keys)),
        ("runs finished", f"{len(sweep.runs) - len(missing)} of {len(sweep.runs)}"),
        *([("not finished", ", ".join(missing))] if missing else []),
        ("made by", f"sinkbowl {', '.join(versions)}"),
    ]


def mass_words(masses: Sequence[float]) -> str:
    """The masses [kg] of bowl and ballast: '200 g', '160 to 240 g'."""
    low, high = (f"{1e3 * mass:.4g}" for mass in (min(masses), max(masses)))
    return f"{low} g" if low == high else f"{low} to {high} g"


def conclusion(points: Sequence[RunPoint]) -> str:
    """Up to three sentences on the runs of a sweep."""
    counts = {model: _within(points, model) for model in points[0].models if model in MODELS}
    best = max(counts, key=lambda model: counts[model])
    return " ".join((_times(points), _nearest(counts, best, len(points)), _lack(points, best)))


def _times(points: Sequence[RunPoint]) -> str:
    ordered = sorted(points, key=lambda point: (point.hole, point.time))
    narrow, wide = ordered[0], ordered[-1]
    ends = [f"{1e3 * p.hole:.3g} mm: {time_text(p.time, p.interval)}" for p in (narrow, wide)]
    if narrow.hole == wide.hole:
        return f"All have one hole, {ends[0]}{'' if len(points) == 1 else f' to {ends[1]}'}."
    return f"From the narrowest hole, {ends[0]}, to the widest, {ends[1]}."


def _within(points: Sequence[RunPoint], model: str) -> int:
    """Runs at which a model is within the last of LEVELS over the whole interval."""
    deviations = [(p.deviation(model), p.interval.half / p.time) for p in points]
    return sum(d is not None and verdict_of(d, half) == WITHIN for d, half in deviations)


def _nearest(counts: dict[str, int], best: str, runs: int) -> str:
    level = f"{100 * LEVELS[-1]:.0f} %"
    if counts[best] == 0:
        return f"No reduced model can be shown to be within {level} at any of {runs} runs."
    others = ", ".join(f"{model} at {n}" for model, n in counts.items() if model != best)
    return (
        f"Nearest to the flow solver is the {best} model, shown to be within {level} at "
        f"{counts[best]} of {runs} runs ({others})."
    )


def _lack(points: Sequence[RunPoint], model: str) -> str:
    """Main cause of the model's largest error."""
    regions = [region for region in breakdown(points) if region.model == model and region.reasons]
    if not regions:
        return (
            f"The difference of the {model} model is inside the flow solver's own interval, or "
            "too small to explain."
        )
    spans = [
        f"d/D {r.low:.2f}{f' to {r.high:.2f}' if r.high > r.low else ''}: {r.reasons[0]}"
        for r in regions[:2]
    ]
    return f"The main cause of the difference of {model} is, at {'; at '.join(spans)}."
