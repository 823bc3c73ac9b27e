"""Titles, names and other words of a case, a result or a table, shown as the text that they are.

Whoever wrote them may have meant markup, or harm: a terminal obeys escape sequences, rich and
matplotlib read brackets and dollars, spreadsheets compute cells that begin with a sign. Whatever is
shown goes through one of these functions, by where it goes. Markup in HTML is escaped by its
templates and by `TextTable.html`.
"""

from __future__ import annotations

import re

UNSHOWN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # controls, but for tab and new line
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # what turns the direction of writing
    "\u2028\u2029"  # what ends lines
    "\ud800-\udfff]"  # halves of characters, which no encoding takes
)

SIGNS = "=+\\-@\uff1d\uff0b\uff0d\uff20"
"""What begins a cell that spreadsheets compute, also in its wide forms."""

FORMULA = re.compile(rf"\s*[{SIGNS}'#]")
"""Beginnings of cells that are no text: computed, a remark, or the mark that keeps them from it."""

FORMULA_AFTER = re.compile(rf"(?<=[,;\t|])([\s\"]*)(?=[{SIGNS}])")
"""The same signs within a line, behind whatever may separate cells, in quotes or not."""


def for_terminal(text: str) -> str:
    """Text for a terminal: what would steer it is spelled out, \\x1b; new lines and tabs stay."""
    return UNSHOWN.sub(lambda found: ascii(found[0])[1:-1], text)


def for_figure(text: str) -> str:
    """Text for a figure whose texts are not read as formulas (`house_style`): new lines stay."""
    return for_html(text.replace("\t", " "))


def for_html(page: str) -> str:
    """A page without what would steer who reads it, escape sequences and turns of the writing."""
    return UNSHOWN.sub("\N{REPLACEMENT CHARACTER}", page)


def one_line(text: str) -> str:
    """A title for a figure, or any place that holds a single line."""
    return for_figure(" ".join(text.split()))


def for_csv(text: str) -> str:
    """Text for a cell of a table: one line, and an apostrophe first where it would be computed."""
    line = one_line(text)
    return f"'{line}" if FORMULA.match(line) else line


def from_csv(cell: str) -> str:
    """The text that `for_csv` made a cell of."""
    return cell[1:] if cell.startswith("'") and FORMULA.match(cell[1:]) else cell


def for_csv_remark(text: str) -> str:
    """Text within a remark of a table, which programs that know no remarks cut into cells."""
    return FORMULA_AFTER.sub(r"'\1", one_line(text))
