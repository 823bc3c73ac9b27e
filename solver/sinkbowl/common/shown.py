"""How results show themselves to people: times in words, and small tables as text or HTML.

Notebooks take the HTML (``_repr_html_``), everything else the text (``__repr__``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from sinkbowl.common.plain_text import for_html, for_terminal

Rows = Sequence[Sequence[str]]


def time_unit(longest: float) -> tuple[float, str]:
    """Factor and unit in which times up to ``longest`` [s] read well."""
    return (1e3, "ms") if longest < 0.3 else (1.0, "s")


def seconds(t: float, longest: float | None = None) -> str:
    """A time [s] in words, to three figures: '95.2 ms', '0.512 s', '12.3 s'.

    Times that stand side by side get the unit that suits the ``longest`` of them [s].
    """
    factor, unit = time_unit(t if longest is None else longest)
    value = t * factor
    decimals = max(0, 3 - len(str(int(value)))) if value >= 1 else 3
    return f"{value:.{decimals}f} {unit}"


def seconds_with(t: float, half: float | None, longest: float | None = None) -> str:
    """A time [s] in words with the half-width of its interval [s]: '2.052 ± 0.031 s'.

    The half-width has two figures, and the time the digits that it leaves; none is finer than a
    ten-thousandth of the time, and so a half-width of next to nothing is told as that much.

    Parameters
    ----------
    longest : as for `seconds`
    """
    if half is None:
        return seconds(t, longest)
    factor, unit = time_unit(t if longest is None else longest)
    value = t * factor
    width = max(half * factor, 1e-4 * value)
    if width <= 0.0:
        return seconds(t, longest)
    decimals = max(0, 1 - math.floor(math.log10(float(f"{width:.1e}"))))
    return f"{value:.{decimals}f} ± {width:.{decimals}f} {unit}"


def table_text(rows: Rows, title: str = "", head: Sequence[str] = ()) -> str:
    """Rows of cells in columns, the first column to the left, with headings where there are any.

    Parameters
    ----------
    rows : all of the same length
    """
    lines = [*([head] if head else []), *rows]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    set_ = [_columns(line, widths, bool(head)) for line in lines]
    return for_terminal("\n".join(([title] if title else []) + set_))


def table_html(rows: Rows, title: str = "", head: Sequence[str] = ()) -> str:
    """The same as an HTML table; what stands in the cells is escaped."""
    caption = f"<caption>{escape(title)}</caption>" if title else ""
    lines = [_line("th", head)] if head else []
    lines += (_line("td", row) for row in rows)
    return for_html(f"<table>{caption}{''.join(lines)}</table>")


def _columns(cells: Sequence[str], widths: Sequence[int], numbers: bool) -> str:
    first = f"  {cells[0]:<{widths[0]}}"
    others = [
        f"{cell:>{width}}" if numbers else cell
        for cell, width in zip(cells[1:], widths[1:], strict=True)
    ]
    return "  ".join((first, *others)).rstrip()


def _line(tag: str, cells: Sequence[str]) -> str:
    inner = "".join(
        f'<{tag} style="text-align:{"right" if place else "left"}">{escape(cell)}</{tag}>'
        for place, cell in enumerate(cells)
    )
    return f"<tr>{inner}</tr>"
