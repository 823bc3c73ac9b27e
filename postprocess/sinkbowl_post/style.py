"""House style of all figures and films: palette, fonts, axes, direct labels, saving.

For a screen in a lecture room: type of at least 16 pt on a 13.3 x 7.5 inch page (3 % of its
height), colours that colour-blind people can distinguish (models also differ in dashes), and names
beside the lines instead of a legend. Water is blue, lighter where it is faster; bowl and ballast
have the colours of their materials; paper is a warm white.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sinkbowl.common.shown import for_figure, one_line
from sinkbowl.common.shown import seconds as seconds
from sinkbowl.common.shown import seconds_with as seconds_with
from sinkbowl.common.shown import time_unit as time_unit
from sinkbowl_post.output import check_output, write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.figure import Figure

PAPER = "#FBF8F2"
INK = "#11263C"
QUIET_INK = "#55657A"
HAIRLINE = "#C9CDD2"
AIR = "#F3EDE2"
CLOSED_AIR = "#E5A98C"
BRASS = "#B9852C"
BRASS_EDGE = "#6B4A12"
MATERIALS = {
    "steel": ("#8C99A8", "#3B4856"),
    "brass": (BRASS, BRASS_EDGE),
    "copper": ("#B8623B", "#62301A"),
    "lead": ("#59636F", "#262D35"),
    "wood": ("#C79A6B", "#6A4526"),
    "plastic": ("#4F9E8E", "#1F5249"),
    "putty": ("#B5AE9C", "#5C5748"),
}
"""Fill and edge colours of materials."""
SURFACE_LINE = "#06283F"

STILL_TO_FAST = ("#0B4F7D", "#1E7FB0", "#55B0D3", "#A6DCEB", "#F4FCFD")
STILL_TO_SPINNING = ("#0B4F7D", "#3C6E8F", "#8E8F78", "#D9A441", "#FFE9B0")
PLAIN_WATER = ("#1E7FB0", "#1E7FB0")
LOW_TO_HIGH = ("#D8EEF5", "#8CC3DC", "#3E8DB8", "#155B8A", "#082B4C")

FIGURE_SUFFIXES = (".png", ".svg", ".pdf")
HEADING, STAMP = "heading", "stamp"  # marks (gid) of texts that saving a figure may change or add

UNDATED: dict[str, dict[str, Any]] = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}
"""Metadata without date, so that equal figures are equal files."""

SHEET_SUFFIXES = (".pdf",)
SLIDE = (40 / 3, 7.5)  # inches, 16:9


@dataclass(frozen=True)
class LineStyle:
    """Style of a model's line: colour, dash pattern, width [pt] and name."""

    name: str
    colour: str
    dashes: tuple[float, ...]
    width: float


LINES = {
    "flow": LineStyle("flow solver", "#0A4A86", (), 4.5),
    "corrected": LineStyle("corrected heave", "#8F5BE5", (8.0, 1.4), 3.0),
    "heave": LineStyle("heave", "#A61E3C", (5.0, 1.6), 3.0),
    "quasi-static": LineStyle("quasi-static", "#A87100", (2.4, 1.4), 3.0),
    "falling": LineStyle("falling body", "#3A8F7D", (1.0, 1.2), 3.0),
}

RUN_LINES = (
    LineStyle("first", "#0A4A86", (), 3.2),
    LineStyle("second", "#C2410C", (5.0, 1.6), 3.2),
    LineStyle("third", "#3A8F7D", (2.4, 1.4), 3.2),
    LineStyle("fourth", "#8A2A6B", (6.0, 1.4, 1.4, 1.4), 3.2),
    LineStyle("fifth", "#A87100", (1.0, 1.2), 3.2),
    LineStyle("sixth", "#55657A", (9.0, 2.0), 3.2),
)
"""Styles of several runs on one page or film."""

_RC: dict[Any, Any] = {
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "font.family": "DejaVu Sans",
    "font.size": 17,
    "text.color": INK,
    "text.parse_math": False,  # a title may hold a dollar sign; formatters here write plain numbers
    "axes.facecolor": PAPER,
    "axes.edgecolor": QUIET_INK,
    "axes.labelcolor": INK,
    "axes.labelsize": 18,
    "axes.linewidth": 1.4,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "xtick.color": QUIET_INK,
    "ytick.color": QUIET_INK,
    "xtick.labelsize": 16,
    "ytick.labelsize": 16,
    "xtick.major.size": 6,
    "ytick.major.size": 6,
    "xtick.major.width": 1.4,
    "ytick.major.width": 1.4,
    "lines.solid_capstyle": "round",
    "lines.dash_capstyle": "butt",
    "svg.fonttype": "path",
    "svg.hashsalt": "sinkbowl",
}


POINT = re.compile(r"(?<=\d)\.(?=\d)")


@contextmanager
def house_style() -> Iterator[None]:
    """House style for the ``with`` block, independent of the user's settings."""
    import matplotlib as mpl

    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(_RC)
        yield


def water_map(quantity: str) -> LinearSegmentedColormap:
    """Colours of the water: "speed" gets lighter, "pressure" darker with increasing values.

    "vorticity" goes from blue to brass; "none" is plain blue.
    """
    from matplotlib.colors import LinearSegmentedColormap

    colours = {
        "speed": STILL_TO_FAST,
        "pressure": LOW_TO_HIGH,
        "vorticity": STILL_TO_SPINNING,
        "none": PLAIN_WATER,
    }[quantity]
    return LinearSegmentedColormap.from_list(f"sinkbowl_{quantity}", colours)


def title_size(text: str, room: float) -> float:
    """Type size [pt] of a bold title that fits into ``room`` inches, at most 25."""
    return min(25.0, 72 * room / (0.70 * max(len(text), 1)))  # 0.70 em a letter: bold and wide


def title(figure: Figure, text: str, subtitle: str = "", case: str = "") -> None:
    """Write the message of a figure in its upper left corner, with a secondary line below.

    case : title of the case, if the message is another; saving stamps the figure with it
    """
    text, subtitle, case = one_line(text), one_line(subtitle), one_line(case)
    size = title_size(text, 0.94 * figure.get_figwidth())
    figure.text(0.03, 0.965, text, size=size, weight="bold", va="top", gid=HEADING)
    figure.set_label(case or text)
    figure.text(0.03, 0.895, subtitle, size=17, color=QUIET_INK, va="top")


def draw_line(axes: Axes, x: object, y: object, line: LineStyle, **options: object) -> None:
    """Plot a model's curve in its colour, dashes and width."""
    style = (0, line.dashes) if line.dashes else "-"
    axes.plot(x, y, color=line.colour, linestyle=style, linewidth=line.width, **options)  # type: ignore[arg-type]


def sign(figure: Figure, heading: str | None = None) -> None:
    """Stamp a figure with version and case in its corner, and set another heading."""
    from importlib.metadata import version

    texts = {str(text.get_gid()): text for text in figure.texts}
    if heading is not None and HEADING in texts:
        heading = one_line(heading)
        texts[HEADING].set_text(heading)
        texts[HEADING].set_fontsize(title_size(heading, 0.94 * figure.get_figwidth()))
    if STAMP not in texts and HEADING in texts:
        words = f"sinkbowl {version('sinkbowl')}, {figure.get_label()}"
        corner = figure.text(0.995, 0.006, words, gid=STAMP, size=9, color=QUIET_INK)
        corner.set(ha="right", va="bottom")


def show_plainly(figure: Figure) -> None:
    """Remove control characters from all texts of a figure, and disable formulas."""
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        if isinstance(text, Text):
            text.set_parse_math(False)
            if text.get_text() != for_figure(text.get_text()):
                text.set_text(for_figure(text.get_text()))


def save_all(
    files: Sequence[Path],
    figure: Callable[[], Figure],
    table: Callable[[], str],
    heading: str | None = None,
    comma: bool = False,
) -> None:
    """Write a figure to each file, or a table where its name ends in .csv, made where asked for."""
    drawn = None
    for file in files:
        if file.suffix.lower() == ".csv":
            write_whole(file, table().encode())
        else:
            drawn = drawn or figure()
            save_figure(drawn, file, heading, comma)


def save_figure(
    figure: Figure, path: str | Path, heading: str | None = None, comma: bool = False
) -> None:
    """Write a figure as PNG, SVG or PDF, by the suffix of its file name.

    Parameters
    ----------
    heading : instead of the default
    comma : whether its numbers have decimal commas

    Raises ResultError for another suffix, or a folder that does not exist.
    """
    path = Path(path)
    check_output(path, FIGURE_SUFFIXES)
    metadata = UNDATED.get(path.suffix.lower())
    with house_style():
        sign(figure, heading)
        show_plainly(figure)
        if comma:
            comma_figure(figure, {STAMP} if heading is None else {STAMP, HEADING})
        drawn = BytesIO()
        figure.savefig(drawn, format=path.suffix[1:].lower(), dpi=150, metadata=metadata)
    write_whole(path, drawn.getvalue())


def comma_figure(figure: Figure, kept: Collection[str]) -> None:
    """Write all numbers of a figure with decimal commas.

    kept : marks (gid) of texts that stay unchanged
    """
    from matplotlib.text import Text

    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(_with_commas(axis.get_major_formatter()))
    for text in figure.findobj(Text):
        if isinstance(text, Text) and text.get_gid() not in kept:
            text.set_text(POINT.sub(",", text.get_text()))


def _with_commas(inner: Any) -> Any:
    """An axis formatter that turns points into commas."""
    from matplotlib.ticker import Formatter

    class Commas(Formatter):
        def set_axis(self, axis: Any) -> None:
            super().set_axis(axis)
            inner.set_axis(axis)

        def set_locs(self, locs: Any) -> None:
            inner.set_locs(locs)

        def get_offset(self) -> str:
            return POINT.sub(",", inner.get_offset())

        def __call__(self, x: float, pos: int | None = None) -> str:
            return POINT.sub(",", inner(x, pos))

        def format_ticks(self, values: Sequence[float]) -> list[str]:
            return [POINT.sub(",", words) for words in inner.format_ticks(values)]

    return Commas()
