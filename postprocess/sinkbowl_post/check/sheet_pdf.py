"""A trial sheet as PDF: one A4 page, black on white."""

from io import BytesIO
from pathlib import Path
from textwrap import wrap

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from sinkbowl.common.shown import one_line
from sinkbowl_post.check.sheet import CAUTIONS, COLUMNS, ROUTINE, Sheet
from sinkbowl_post.output import check_output, write_whole
from sinkbowl_post.style import HAIRLINE, INK, QUIET_INK, SHEET_SUFFIXES, house_style, show_plainly

PAGE = (210 / 25.4, 297 / 25.4)  # inches, A4
LEFT, RIGHT, TOP, BOTTOM = 18.0, 192.0, 281.0, 14.0  # mm, counted upwards
LINE = 6.0  # mm from line to line of text
ROW = 8.6  # mm, high enough to write in
ROWS = 10  # fewer where the texts above leave no room
FOOT = 40.0  # mm, what stands below the table
STOPS = (18.0, 30.0, 54.0, 78.0, 104.0, 132.0, 192.0)  # mm, the columns' edges
VALUES = 72.0  # mm, where the values begin
WIDTH = 96  # letters a line


def write_sheet(sheet: Sheet, path: Path) -> None:
    """Write a sheet as PDF; ResultError for another suffix, or a folder that does not exist."""
    check_output(path, SHEET_SUFFIXES)
    figure, drawn = sheet_figure(sheet), BytesIO()
    with (
        house_style(),
        PdfPages(drawn, metadata={"Title": one_line(sheet.title), "CreationDate": None}) as pdf,
    ):
        show_plainly(figure)
        pdf.savefig(figure, facecolor="white")
    write_whole(path, drawn.getvalue())


def sheet_figure(sheet: Sheet) -> Figure:
    """Set the page."""
    with house_style():
        page = _Page()
        page.text(LEFT, "Trial sheet", size=11, color=QUIET_INK)
        page.text(113, "date ________________   by ________________", size=10)
        page.down(1.3)
        for line in wrap(one_line(sheet.title), 52):
            page.text(LEFT, line, size=17, weight="bold")
            page.down(1.3)
        page.pairs("What to set", sheet.settings)
        page.pairs("What to expect", sheet.expected)
        for remark in sheet.remarks:
            page.paragraph(remark)
        page.heading("Trials")
        for line in ROUTINE:
            page.text(LEFT, line, size=9, color=QUIET_INK)
            page.down(0.8)
        page.grid()
        page.heading("Safety")
        for line in CAUTIONS:
            page.text(LEFT, f"\N{BULLET} {line}", size=9.5)
            page.down(0.85)
    return page.figure


class _Page:
    """A page written from the top down, in millimetres."""

    def __init__(self) -> None:
        self.figure = Figure(figsize=PAGE, facecolor="white")
        self._y = TOP

    def down(self, lines: float) -> None:
        self._y -= lines * LINE

    def text(
        self, x: float, text: str, size: float, weight: str = "normal", color: str = INK
    ) -> None:
        place = (x / 210, self._y / 297)
        self.figure.text(*place, text, size=size, weight=weight, color=color, va="top")

    def rule(self, x: tuple[float, float], y: tuple[float, float], color: str) -> None:
        xs, ys = [value / 210 for value in x], [value / 297 for value in y]
        self.figure.add_artist(Line2D(xs, ys, color=color, linewidth=0.7))

    def heading(self, text: str) -> None:
        self.down(0.5)
        self.rule((LEFT, RIGHT), (self._y, self._y), HAIRLINE)
        self.down(0.35)
        self.text(LEFT, text, size=12, weight="bold")
        self.down(1.1)

    def pairs(self, title: str, rows: tuple[tuple[str, str], ...]) -> None:
        self.heading(title)
        for name, value in rows:
            self.text(LEFT, name, size=10, color=QUIET_INK)
            for line in wrap(value, 62):
                self.text(VALUES, line, size=10)
                self.down(0.92)

    def paragraph(self, text: str) -> None:
        for line in wrap(text, WIDTH):
            self.text(LEFT, line, size=10)
            self.down(0.9)

    def grid(self) -> None:
        """Heading and empty rows of the table."""
        self.down(0.3)
        for x, name in zip(STOPS, COLUMNS, strict=False):
            self.text(x + 1.5, name, size=9.5, weight="bold")
        self.down(0.9)
        rows = min(ROWS, int((self._y - BOTTOM - FOOT) / ROW))
        top, bottom = self._y, self._y - rows * ROW
        for k in range(rows + 1):
            self.rule((LEFT, RIGHT), (top - k * ROW,) * 2, QUIET_INK)
        for x in STOPS:
            self.rule((x, x), (top, bottom), QUIET_INK)
        for k in range(rows):
            self._y = top - k * ROW - 2.6
            self.text(LEFT + 1.5, str(k + 1), size=9, color=QUIET_INK)
        self._y = bottom - 1.5
