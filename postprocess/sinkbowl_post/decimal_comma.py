"""Decimal commas, for tables and figures that go where people write them."""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Sequence
from io import StringIO
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

POINT = re.compile(r"(?<=\d)\.(?=\d)")
NUMBER = re.compile(r"[+-]?\d+\.\d+(e[+-]?\d+)?", re.IGNORECASE)


def comma_table(text: str) -> str:
    """A table with ; between its cells and decimal commas in its numbers.

    Parameters
    ----------
    text : with , between the cells; lines that begin with # stay as they are
    """
    out = StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    for line in text.splitlines():
        if line.startswith("#"):
            out.write(line + "\n")
        else:
            (row,) = csv.reader([line])
            writer.writerow([c.replace(".", ",") if NUMBER.fullmatch(c) else c for c in row])
    return out.getvalue()


def comma_figure(figure: Figure, kept: Collection[str]) -> None:
    """Give all numbers of a figure decimal commas.

    Parameters
    ----------
    kept : marks (gid) of the texts that stay as they are
    """
    from matplotlib.text import Text

    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(_with_commas(axis.get_major_formatter()))
    for text in figure.findobj(Text):
        if isinstance(text, Text) and text.get_gid() not in kept:
            text.set_text(POINT.sub(",", text.get_text()))


def _with_commas(inner: Any) -> Any:
    """An axis' own formatter, its points turned into commas."""
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
            return [POINT.sub(",", told) for told in inner.format_ticks(values)]

    return Commas()
