"""The report of a run: one HTML file with everything inside, to open without a network.

Film and figures are data URLs (RFC 2397); every picture has a text alternative; on paper a still
takes the film's place.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory

from jinja2 import Environment
from matplotlib.figure import Figure

from sinkbowl.running.result import Result
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.check_page import verdict_words
from sinkbowl.statics.checking import verdict
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.compare.compare import compare
from sinkbowl_post.compare.figure import comparison_figure
from sinkbowl_post.export.aside import written_aside
from sinkbowl_post.film.film import make_film
from sinkbowl_post.report.story import tell
from sinkbowl_post.style import BRASS, INK, PAPER, QUIET_INK, check_output, save_figure

FILM_WORDS = (
    "Film of the bowl cut open: water coloured by its speed rises through the hole while the bowl "
    "sinks, and beside it the depth of the bowl against time."
)
CHECK_WORDS = (
    "The empty bowl afloat, in section, with its centre of weight G, centre of buoyancy B and "
    "metacentre M, and the metacentric height against the inner water level."
)


def make_report(
    result: Result, output: str | Path, progress: Callable[[int, int], None] | None = None
) -> None:
    """Write the report of a run.

    Parameters
    ----------
    result : a run in progress or ended; without frames the report has no film
    output : file to write, .html
    progress : called with (frames drawn, frames in all) while the film is made

    Raises
    ------
    ResultError : another suffix, a folder that does not exist, or a case that cannot be read again
    """
    output = Path(output)
    check_output(output, (".html",))
    case, comparison = result.case, compare(result)
    story = tell(result, comparison)
    film, still = _film(result, progress) if len(result.frames) > 1 else ("", "")
    curves = ""
    if len(result.history["t"]) > 1:
        curves = _picture(comparison_figure(comparison, case.bowl.rim_height))
    page = _template(
        title=result.title,
        lead=story.lead,
        film=film,
        still=still,
        film_words=FILM_WORDS,
        verdict=verdict_words(verdict(case), hole_gate(case).plugged),
        check_figure=_picture(check_figure(case)),
        check_words=CHECK_WORDS,
        curves=curves,
        curves_words=_curves_words(story.times),
        times=story.times,
        events=story.events,
        health=story.health,
        notes=str(result.attrs["notes"]).splitlines(),
        provenance=story.provenance,
        case_text=str(result.attrs["case_text"]),
        paper=PAPER,
        ink=INK,
        quiet=QUIET_INK,
        brass=BRASS,
    )
    with written_aside(output.parent) as aside:
        (aside / output.name).write_text(page, encoding="utf-8")


def _template(**values: object) -> str:
    text = files("sinkbowl_post.report").joinpath("page.html").read_text(encoding="utf-8")
    return Environment(autoescape=True).from_string(text).render(**values)


def _curves_words(times: list[tuple[str, ...]]) -> str:
    told = ", ".join(f"{name} {time}" for name, time, *_ in times)
    return f"Draft, inner level and hole flow against time. Rim under after: {told}."


def _film(result: Result, progress: Callable[[int, int], None] | None) -> tuple[str, str]:
    """The film and a still from its middle, as data URLs."""
    with TemporaryDirectory() as folder:
        film, still = Path(folder) / "film.mp4", Path(folder) / "still.png"
        make_film([result], [film, still], progress=progress)
        return _url("video/mp4", film.read_bytes()), _url("image/png", still.read_bytes())


def _picture(figure: Figure) -> str:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "figure.svg"
        save_figure(figure, path)
        return _url("image/svg+xml", path.read_bytes())


def _url(kind: str, content: bytes) -> str:
    return f"data:{kind};base64,{b64encode(content).decode('ascii')}"
