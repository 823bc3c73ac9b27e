"""How results show themselves to people: times in words, and small tables as text or HTML.

Notebooks take the HTML (``_repr_html_``), everything else the text (``__repr__``).
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

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


def seconds_with(t: float, uncertainty: float | None) -> str:
    """A time [s] in words with its uncertainty [s], to two figures: '2.05 s ± 0.031 s'."""
    if uncertainty is None:
        return seconds(t)
    factor, unit = time_unit(t)
    return f"{seconds(t)} ± {uncertainty * factor:.2g} {unit}"


def table_text(rows: Rows, title: str = "", head: Sequence[str] = ()) -> str:
    """Rows of cells in columns, the first column to the left, with headings where there are any.

    Parameters
    ----------
    rows : all of the same length
    """
    lines = [*([head] if head else []), *rows]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    set_ = [_columns(line, widths, bool(head)) for line in lines]
    return "\n".join(([title] if title else []) + set_)


def table_html(rows: Rows, title: str = "", head: Sequence[str] = ()) -> str:
    """The same as an HTML table; what stands in the cells is escaped."""
    caption = f"<caption>{escape(title)}</caption>" if title else ""
    return f"<table>{caption}{_line('th', head) if head else ''}" + (
        "".join(_line("td", row) for row in rows) + "</table>"
    )


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
