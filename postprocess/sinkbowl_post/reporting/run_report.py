"""The report of a run: one HTML file with everything inside, to open without a network.

Every picture has a text alternative; on paper a still takes the film's place.

What the report says in words and figures, without any pictures.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sinkbowl.common.sinking import EVENT_WORDS
from sinkbowl.design.check_page import verdict_words
from sinkbowl.design.checking import verdict
from sinkbowl.files.result import Result
from sinkbowl.files.scratch import scratch
from sinkbowl.scatter.interval import told_time
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.comparing.compare import Comparison, compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.filming.film import film
from sinkbowl_post.measured.measured import read_measured
from sinkbowl_post.measured.overlay import Overlay, overlay_of, rms_words, trace_rms
from sinkbowl_post.output import check_output
from sinkbowl_post.pages.compare_page import reasons_rows, reasons_words
from sinkbowl_post.reporting.html_page import data_url, figure_url, write_page
from sinkbowl_post.style import seconds

FILM_WORDS = (
    "Film of the bowl in section: water coloured by its speed rises through the hole while the "
    "bowl "
    "sinks, and beside it the depth of the bowl against time."
)
CHECK_WORDS = (
    "The empty bowl afloat, in section, with its centre of gravity G, centre of buoyancy B and "
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
    return f"Draft, inner level and flow through the hole against time. Rim under after: {told}."


def film_urls(
    results: Sequence[Result], progress: Callable[[int, int], None] | None
) -> tuple[str, str]:
    """The film of some runs and a still from its middle, as data URLs."""
    with scratch("sinkbowl-report-") as folder:
        moving, still = folder / "film.mp4", folder / "still.png"
        film(results, [moving, still], progress=progress)
        return data_url("video/mp4", moving), data_url("image/png", still)


Rows = list[tuple[str, str]]


@dataclass(frozen=True)
class Story:
    """Sentences and table rows of the report; every row a name and what belongs to it."""

    lead: str
    times: list[tuple[str, ...]]
    measured: list[str]
    events: Rows
    health: Rows
    provenance: Rows


def tell(result: Result, comparison: Comparison, overlay: Overlay | None = None) -> Story:
    """The story of a run, in progress or ended, perhaps with what was measured of its bowl."""
    times = [tuple(row) for row in comparison.table.rows]
    if overlay is not None:
        times.append(overlay.row(comparison.flow.sinking_time))
    return Story(
        lead=_lead(result),
        times=times,
        measured=[] if overlay is None else _measured(overlay, comparison),
        events=[
            (EVENT_WORDS[name], _when(name, t, result))
            for name, t in sorted(result.events.items(), key=lambda event: event[1])
            if name in EVENT_WORDS and name != "start"
        ],
        health=_health(result),
        provenance=[
            ("result file", result.path.name),
            ("status", result.status),
            ("made by", f"sinkbowl {result.attrs['tool_version']}"),
            ("case, SHA-256", str(result.attrs["case_hash"])),
            ("command", f"sinkbowl run CASE -o {result.path.name}"),
        ],
    )


def _measured(overlay: Overlay, comparison: Comparison) -> list[str]:
    """What is to be said of the trials or the trace, in sentences."""
    told = [overlay.suspect_words]
    if overlay.trace is not None:
        told.append(
            rms_words(trace_rms(overlay.trace, {"flow": comparison.flow, **comparison.models}))
        )
    if overlay.left_out:
        told.append(f"{overlay.left_out} trials of the table have another hole or mass.")
    return [words for words in told if words]


def _when(name: str, t: float, result: Result) -> str:
    """When something happened; the rim's moment is that of all releases, with its interval."""
    if name == "rim_under" and result.sinking_time is not None:
        return told_time(result.sinking_time, result.interval)
    return seconds(t)


def _lead(result: Result) -> str:
    if result.sinking_time is None:
        return f"The rim has not passed under: {result.outcome or result.status}."
    told = told_time(result.sinking_time, result.interval)
    words = f" {result.interval.words}" if result.interval else ""
    return f"Its rim passes under {told} after release.{words}"


def _health(result: Result) -> Rows:
    history = result.history
    if len(history["t"]) == 0:
        return [("time steps", "none")]
    water = history["water_volume"][0]
    return [
        (
            "time steps",
            f"{len(history['t'])}, median {1e3 * np.median(history['dt']):.3g} ms",
        ),
        ("water lost or gained", f"{np.abs(history['volume_error']).max():.1e} of all the water"),
        (
            "error of the momentum balance at the end",
            f"{100 * abs(history['momentum_error'][-1]):.2g} % of the weight's impulse",
        ),
        (
            "water moved to keep fractions in range",
            f"{history['clipped_volume'][-1] / water:.1e} of all the water",
        ),
        ("iterations of the pressure solver", f"{history['iterations'].mean():.1f} per step"),
    ]
