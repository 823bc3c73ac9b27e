"""Titles, names and other texts of cases, results and tables, made safe to show.

They may contain markup or attacks: terminals obey escape sequences, rich and matplotlib interpret
brackets and dollars, spreadsheets evaluate cells that begin with a sign. Each output has its
function here. Markup in HTML is escaped by its templates and by `TextTable.html`.
"""

import re

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
