"""Pages from templates, with pictures and films as data URLs (RFC 2397)."""

from base64 import b64encode
from collections.abc import Callable, Sequence
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, FunctionLoader
from matplotlib.figure import Figure

from sinkbowl.case.case import Case
from sinkbowl.common.shown import for_html
from sinkbowl.design.check_page import verdict_words
from sinkbowl.design.checking import check
from sinkbowl.files.result import Result
from sinkbowl.files.safe_writing import scratch
from sinkbowl_post.check.figure import check_figure
from sinkbowl_post.filming.film import film
from sinkbowl_post.output import written_aside
from sinkbowl_post.style import BRASS, INK, PAPER, QUIET_INK, save_figure

CHECK_WORDS = (
    "The empty bowl afloat, in section, with its centre of gravity G, centre of buoyancy B and "
    "metacentre M, and the metacentric height against the inner water level."
)


def write_page(output: Path, template: str, **values: object) -> None:
    """Fill a template and write the page; it appears when complete.

    output : file to write
    template : name of a file in this folder
    values : its contents; all of it is text, never markup
    """
    look = {"paper": PAPER, "ink": INK, "quiet": QUIET_INK, "brass": BRASS}
    templates = Environment(autoescape=True, loader=FunctionLoader(_template))
    page = templates.get_template(template).render(**values, **look)
    with written_aside(output.parent) as aside:
        (aside / output.name).write_text(for_html(page), encoding="utf-8")


def _template(name: str) -> str:
    return files("sinkbowl_post.reporting").joinpath(name).read_text(encoding="utf-8")


def check_values(case: Case) -> dict[str, str]:
    """What both pages say of a bowl before it gets wet."""
    return {
        "verdict": verdict_words(check(case).as_dict()),
        "check_figure": figure_url(check_figure(case)),
        "check_words": CHECK_WORDS,
    }


def film_urls(
    results: Sequence[Result], progress: Callable[[int, int], None] | None
) -> tuple[str, str]:
    """The film of some runs and a still from its middle, as data URLs."""
    with scratch("sinkbowl-report-") as folder:
        moving, still = folder / "film.mp4", folder / "still.png"
        film(results, [moving, still], progress=progress)
        return data_url("video/mp4", moving), data_url("image/png", still)


def figure_url(figure: Figure) -> str:
    """A figure as a data URL."""
    with scratch("sinkbowl-figure-") as folder:
        path = folder / "figure.svg"
        save_figure(figure, path)
        return data_url("image/svg+xml", path)


def data_url(kind: str, file: Path) -> str:
    """A file's content as a data URL."""
    return f"data:{kind};base64,{b64encode(file.read_bytes()).decode('ascii')}"
