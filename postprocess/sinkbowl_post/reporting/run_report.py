"""The report of a run: one HTML file with everything inside, to open without a network.

Every picture has a text alternative; on paper a still takes the film's place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from sinkbowl.design.check_page import verdict_words
from sinkbowl.design.checking import verdict
from sinkbowl.files.result import Result
from sinkbowl.files.scratch import scratch
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.filming.film import film
from sinkbowl_post.measured.measured import read_measured
from sinkbowl_post.measured.overlay import overlay_of
from sinkbowl_post.output import check_output
from sinkbowl_post.pages.compare_page import reasons_rows, reasons_words
from sinkbowl_post.reporting.html_page import data_url, figure_url, write_page
from sinkbowl_post.reporting.story import tell

FILM_WORDS = (
    "Film of the bowl cut open: water coloured by its speed rises through the hole while the bowl "
    "sinks, and beside it the depth of the bowl against time."
)
CHECK_WORDS = (
    "The empty bowl afloat, in section, with its centre of weight G, centre of buoyancy B and "
    "metacentre M, and the metacentric height against the inner water level."
)


def run_report(
    result: Result,
    output: str | Path,
    progress: Callable[[int, int], None] | None = None,
    measured: str | Path | None = None,
) -> None:
    """Write the report of a run.

    Parameters
    ----------
    result : a run in progress or ended; without frames the report has no film
    output : file to write, .html
    progress : called with (frames drawn, frames in all) while the film is made
    measured : table of trials or trace of the bowl, .csv

    Raises
    ------
    CaseError : the measured table cannot be read, or has no trial of the bowl
    ResultError : another suffix, a folder that does not exist, or a case that cannot be read again
    """
    output = Path(output)
    check_output(output, (".html",))
    case, comparison = result.case, compare(result)
    overlay = None if measured is None else overlay_of(case, read_measured(Path(measured)))
    story = tell(result, comparison, overlay)
    reasons = {name: one for name, one in comparison.reasons.items() if one is not None}
    shown = len(result.history["t"]) > 1
    filmed = shown and len(result.frames) > 1
    moving, still = film_urls([result], progress) if filmed else ("", "")
    curves = ""
    if shown:
        curves = figure_url(comparison_figure(comparison, case.bowl.rim_height, overlay))
    write_page(
        output,
        "run.html",
        title=result.title,
        lead=story.lead,
        film=moving,
        still=still,
        film_words=FILM_WORDS,
        verdict=verdict_words(verdict(case), hole_gate(case).plugged),
        check_figure=figure_url(check_figure(case)),
        check_words=CHECK_WORDS,
        curves=curves,
        curves_words=_curves_words(story.times),
        times=story.times,
        measured_words=story.measured,
        reasons_names=list(reasons),
        reasons_rows=reasons_rows(reasons, comparison.half_width) if reasons else [],
        reasons_words=reasons_words(comparison),
        events=story.events,
        health=story.health,
        notes=str(result.attrs["notes"]).splitlines(),
        provenance=story.provenance,
        case_text=str(result.attrs["case_text"]),
    )


def _curves_words(times: list[tuple[str, ...]]) -> str:
    told = ", ".join(f"{name} {time}" for name, time, *_ in times)
    return f"Draft, inner level and hole flow against time. Rim under after: {told}."


def film_urls(
    results: Sequence[Result], progress: Callable[[int, int], None] | None
) -> tuple[str, str]:
    """The film of some runs and a still from its middle, as data URLs."""
    with scratch("sinkbowl-report-") as folder:
        moving, still = folder / "film.mp4", folder / "still.png"
        film(results, [moving, still], progress=progress)
        return data_url("video/mp4", moving), data_url("image/png", still)
