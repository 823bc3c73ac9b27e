"""The report of a sweep: one HTML file with the curves, a film of some runs, a table of all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from sinkbowl.case.case import parse_case
from sinkbowl.design.check_page import verdict_words
from sinkbowl.design.checking import verdict
from sinkbowl.files.result import Result, read_result
from sinkbowl.scatter.interval import told_time
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.sweeps.index import Sweep
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.output import check_output
from sinkbowl_post.reference_curves.curves import curves_table, curves_words
from sinkbowl_post.reference_curves.figure import curves_figure
from sinkbowl_post.reference_curves.points import RunPoint
from sinkbowl_post.reference_curves.reading import read_points
from sinkbowl_post.reporting.conclusion import conclusion, mass_words
from sinkbowl_post.reporting.html_page import figure_url, write_page
from sinkbowl_post.reporting.run_report import CHECK_WORDS, film_urls

IN_FILM = 3
"""Runs that the film shows side by side."""


def sweep_report(
    sweep: Sweep, output: str | Path, progress: Callable[[int, int], None] | None = None
) -> None:
    """Write the report of a sweep.

    Parameters
    ----------
    sweep : runs that are not finished, or did not sink, are named
    output : file to write, .html
    progress : called with (frames drawn, frames in all) while the film is made

    Raises
    ------
    ResultError : no run of it sank, another suffix, or a folder that does not exist
    """
    output = Path(output)
    check_output(output, (".html",))
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
        film_words=_film_words(shown),
        verdict=verdict_words(verdict(case), hole_gate(case).plugged),
        check_figure=figure_url(check_figure(case)),
        check_words=CHECK_WORDS,
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
    quickest, slowest = (told_time(p.time, p.interval) for p in (ordered[0], ordered[-1]))
    if len(points) == 1:
        return f"One bowl of {mass}, under after {quickest}."
    return f"{len(points)} bowls of {mass}, under after {quickest} to {slowest}."


def _film_words(shown: Sequence[Result]) -> str:
    holes = ", ".join(f"{1e3 * result.case.hole.diameter:.3g} mm" for result in shown)
    return f"Film of bowls cut open, side by side at the same instant, with holes of {holes}."


def _health(results: Sequence[Result]) -> list[tuple[str, str]]:
    """The worst of all runs."""
    kept = [np.abs(result.history["volume_error"]).max() for result in results]
    drift = [abs(result.history["momentum_error"][-1]) for result in results]
    warned = sum(bool(result.levels_warning) for result in results)
    return [
        ("water lost or won, at most", f"{max(kept):.1e} of all the water"),
        (
            "momentum not accounted for at the end, at most",
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
