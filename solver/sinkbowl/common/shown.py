"""Display of results: texts made safe to show, quantities in words, small tables as text or HTML.

Titles, names and other texts of cases, results and tables may contain markup or attacks: terminals
obey escape sequences, rich and matplotlib interpret brackets and dollars, spreadsheets evaluate
cells that begin with a sign. Each output has its function here. Markup in HTML is escaped by its
templates and by `TextTable.html`.
"""

import math
import re
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

UNSHOWN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # controls, but for tab and new line
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # what turns the direction of writing
    "\u2028\u2029"  # what ends lines
    "\ud800-\udfff]"  # halves of characters, which no encoding takes
)

SIGNS = "=+\\-@\uff1d\uff0b\uff0d\uff20"
"""Beginnings of cells that spreadsheets evaluate, including full-width forms."""

FORMULA = re.compile(rf"\s*[{SIGNS}'#]")
"""Beginnings of cells that are not text: formula, comment, or the apostrophe that protects."""

FORMULA_AFTER = re.compile(rf"(?<=[,;\t|])([\s\"]*)(?=[{SIGNS}])")
"""The same signs inside a line, after any cell separator, quoted or not."""


def for_terminal(text: str) -> str:
    """Text for a terminal: control characters as escapes, \\x1b; new lines and tabs stay."""
    return UNSHOWN.sub(lambda found: ascii(found[0])[1:-1], text)


def for_figure(text: str) -> str:
    """Text for a figure without formulas (`house_style`): new lines stay."""
    return for_html(text.replace("\t", " "))


def for_html(page: str) -> str:
    """A page without control characters, such as escapes and changes of writing direction."""
    return UNSHOWN.sub("\N{REPLACEMENT CHARACTER}", page)


def one_line(text: str) -> str:
    """A title for a figure or another single line."""
    return for_figure(" ".join(text.split()))


def for_csv(text: str) -> str:
    """Text for a cell of a table: one line, with an apostrophe before a formula."""
    line = one_line(text)
    return f"'{line}" if FORMULA.match(line) else line


def from_csv(cell: str) -> str:
    """The inverse of `for_csv`."""
    return cell[1:] if cell.startswith("'") and FORMULA.match(cell[1:]) else cell


def for_csv_remark(text: str) -> str:
    """Text within a comment of a table, which other programs may split into cells."""
    return FORMULA_AFTER.sub(r"'\1", one_line(text))


MINUTES = 120.0  # time [s] from which minutes are given too


def millimetres(length: float, figures: int = 4) -> str:
    """A length [m] in words: '12.5 mm'."""
    return f"{length * 1e3:.{figures}g} mm"


def grams(mass: float, figures: int = 4) -> str:
    """A mass [kg] in words: '200 g'."""
    return f"{mass * 1e3:.{figures}g} g"


def percent(share: float, form: str = ".3g") -> str:
    """A share in words, '2.5 %', with a Python format for the number."""
    return f"{100.0 * share:{form}} %"


def capital(text: str) -> str:
    """A text that begins a sentence: only its first letter becomes a capital."""
    return text[:1].upper() + text[1:]


def plural(count: int, word: str) -> str:
    """A number of things: '1 trial', '3 trials'."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def listed(words: Sequence[str]) -> str:
    """Words in a row: 'one, two and three'."""
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def time_unit(longest: float) -> tuple[float, str]:
    """Factor and unit for times up to ``longest`` [s]."""
    return (1e3, "ms") if longest < 0.3 else (1.0, "s")


def seconds(t: float, longest: float | None = None) -> str:
    """A time [s] in words, to three figures: '95.2 ms', '0.512 s', '12.3 s'.

    Times shown together have the unit that suits the ``longest`` of them [s].
    """
    factor, unit = time_unit(t if longest is None else longest)
    value = t * factor
    decimals = max(0, 3 - len(str(int(value)))) if value >= 1 else 3
    return f"{value:.{decimals}f} {unit}"


def seconds_with(t: float, half: float | None, longest: float | None = None) -> str:
    """A time [s] in words with the half-width of its interval [s]: '2.052 ± 0.031 s'.

    The half-width has two figures, and the time as many decimals. A half-width below a
    ten-thousandth of the time is shown as a ten-thousandth. The unit suits the interval's end.

    longest : as for `seconds`
    """
    if half is None:
        return seconds(t, longest)
    factor, unit = time_unit(t + half if longest is None else longest)
    value = t * factor
    width = max(half * factor, 1e-4 * value)
    if width <= 0.0:
        return seconds(t, longest)
    decimals = max(0, 1 - math.floor(math.log10(float(f"{width:.1e}"))))
    return f"{value:.{decimals}f} ± {width:.{decimals}f} {unit}"


def duration(time: float) -> str:
    """A time [s] in words, long ones in minutes too: '2.13 s', '1440 s (24 min 0 s)'."""
    if time < MINUTES:
        return seconds(time)
    minutes, rest = divmod(round(time), 60)
    hours, minutes = divmod(minutes, 60)
    parts = f"{minutes} min {rest} s" if not hours else f"{hours} h {minutes} min"
    return f"{time:.0f} s ({parts})"


@dataclass(frozen=True)
class TextTable:
    """Rows of cells, optional headings, a title and a caption.

    words : left-aligned columns; without headings all are
    """

    rows: Sequence[Sequence[str]]
    title: str = ""
    head: Sequence[str] = ()
    caption: str = ""
    words: Sequence[int] = (0,)

    @property
    def text(self) -> str:
        """The table for a terminal."""
        lines = columns([self.head, *self.rows], self.words) if self.head else columns(self.rows)
        return for_terminal("\n".join([*self._heading, *lines]))

    @property
    def html(self) -> str:
        """The table as HTML, with escaped cells."""
        caption = "".join(f"<caption>{escape(phrase)}</caption>" for phrase in self._heading)
        lines = [_line("th", self.head)] if self.head else []
        lines += (_line("td", row) for row in self.rows)
        return for_html(f"<table>{caption}{''.join(lines)}</table>")

    @property
    def _heading(self) -> list[str]:
        phrase = ". ".join(part for part in (self.title, self.caption) if part)
        return [phrase] if phrase else []


class Shown(ABC):
    """Base of results shown as a table: HTML in a notebook, else text."""

    @property
    @abstractmethod
    def table(self) -> TextTable:
        """The table that is shown."""

    def __repr__(self) -> str:
        """The table as text."""
        return self.table.text

    def _repr_html_(self) -> str:
        return self.table.html


def columns(rows: Sequence[Sequence[str]], words: Sequence[int] | None = None) -> list[str]:
    """Rows, some of them shorter, as lines; a column is as wide as its longest cell.

    words : left-aligned columns; None for all
    """
    most = max(map(len, rows), default=0)
    widths = [max(len(row[k]) for row in rows if k < len(row)) for k in range(most)]
    lines = []
    for row in rows:
        cells = [
            f"{cell:{'<' if words is None or place in words else '>'}{width}}"
            for place, (cell, width) in enumerate(zip(row, widths, strict=False))
        ]
        lines.append("  " + "  ".join(cells).rstrip())
    return lines


def _line(tag: str, cells: Sequence[str]) -> str:
    inner = "".join(
        f'<{tag} style="text-align:{"right" if place else "left"}">{escape(cell)}</{tag}>'
        for place, cell in enumerate(cells)
    )
    return f"<tr>{inner}</tr>"
