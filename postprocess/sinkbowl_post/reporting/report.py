"""The report of a run or of a sweep: one HTML file with everything inside, without a network.

Every picture has a text alternative; on paper a still replaces the film.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np

from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import seconds
from sinkbowl.common.sinking import EVENT_WORDS
from sinkbowl.files.result import Result, read_result
from sinkbowl.scatter.interval import time_text
from sinkbowl.sweeps.index import Sweep, read_sweep
from sinkbowl_post.comparing.compare import compare
from sinkbowl_post.comparing.figure import comparison_figure
from sinkbowl_post.measured.measured import Measured
from sinkbowl_post.output import check_output
from sinkbowl_post.pages.compare_page import difference_words, reasons_rows, reasons_words
from sinkbowl_post.reporting.html_page import check_values, figure_url, film_urls, write_page
from sinkbowl_post.reporting.sweep_report import sweep_report

FILM_WORDS = (
    "Film of the bowl in section: water coloured by its speed rises through the hole while the "
    "bowl sinks, and beside it the depth of the bowl against time."
)
Rows = list[tuple[str, str]]  # names and what belongs to them


def report(
    subject: Result | Sweep | str | Path,
    output: str | Path,
    progress: Callable[[int, int], None] | None = None,
    measured: Measured | None = None,
) -> None:
    """Write one page for the browser with film, curves, figures and numerical checks.

    Parameters
    ----------
    subject : a run, in progress or ended, which without frames has no film; or a sweep, whose
        unfinished and dry runs are listed; or the file or folder of either
    output : file to write, .html
    progress : called with (frames drawn, frames in all) while the film is made
    measured : trials or trace of a run's bowl, as for `compare`

    Raises
    ------
    CaseError : the measured table cannot be read, has no trial of the bowl, or is given for a sweep
    ResultError : no run of a sweep sank, another suffix, a folder that does not exist, or a case
        that cannot be read
    """
    output = Path(output)
    if not isinstance(subject, Result | Sweep):
        subject = read_sweep(subject) if Path(subject).is_dir() else read_result(subject)
    if isinstance(subject, Sweep) and measured is not None:
        raise CaseError(
            "goes with the report of one run",
            key="--measured",
            given=measured,
            allowed="For the trials of a sweep use: sinkbowl curves FOLDER --measured TRIALS.",
        )
    check_output(output, (".html",))
    if isinstance(subject, Sweep):
        sweep_report(subject, output, progress)
    else:
        _run_report(subject, output, progress, measured)


def _run_report(
    result: Result,
    output: Path,
    progress: Callable[[int, int], None] | None,
    measured: Measured | None,
) -> None:
    case, comparison = result.case, compare(result, measured)
    times = comparison.table
    reasons = {name: one for name, one in comparison.reasons.items() if one is not None}
    shown = len(result.history["t"]) > 1
    filmed = shown and len(result.frames) > 1
    moving, still = film_urls([result], progress) if filmed else ("", "")
    curves = ""
    if shown:
        curves = figure_url(comparison_figure(comparison))
    write_page(
        output,
        "run.html",
        title=result.title,
        lead=_lead(result),
        film=moving,
        still=still,
        film_words=FILM_WORDS,
        **check_values(case),
        curves=curves,
        curves_words="Draft, inner level and flow through the hole against time. Rim under after: "
        f"{', '.join(f'{name} {time}' for name, time, *_ in times.rows)}.",
        times=times,
        reasons_title=difference_words(comparison),
        reasons_names=list(reasons),
        reasons_rows=reasons_rows(reasons, comparison.half_width) if reasons else [],
        reasons_words=reasons_words(comparison),
        events=_events(result),
        health=_health(result),
        notes=str(result.attrs["notes"]).splitlines(),
        provenance=_provenance(result),
        case_text=str(result.attrs["case_text"]),
    )


def _events(result: Result) -> Rows:
    """What happened and when; the rim's moment is that of all releases, with its interval."""
    rows = []
    for name, t in sorted(result.events.items(), key=lambda event: event[1]):
        if name in EVENT_WORDS and name != "start":
            of_all = name == "rim_under" and result.sinking_time is not None
            when = time_text(result.sinking_time, result.interval) if of_all else seconds(t)
            rows.append((EVENT_WORDS[name], when))
    return rows


def _provenance(result: Result) -> Rows:
    return [
        ("result file", result.path.name),
        ("status", result.status),
        ("made by", f"sinkbowl {result.attrs['tool_version']}"),
        ("case, SHA-256", str(result.attrs["case_hash"])),
        ("command", f"sinkbowl run CASE -o {result.path.name}"),
    ]


def _lead(result: Result) -> str:
    if result.sinking_time is None:
        return f"The rim has not passed under: {result.outcome or result.status}."
    subject = time_text(result.sinking_time, result.interval)
    return f"Its rim passes under {subject} after release."


def _health(result: Result) -> Rows:
    history = result.history
    if len(history["t"]) == 0:
        return [("time steps", "none")]
    water = history["water_volume"][0]
    return [
        ("time steps", f"{len(history['t'])}, median {1e3 * np.median(history['dt']):.3g} ms"),
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
