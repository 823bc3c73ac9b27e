"""Decimal commas in figures."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

POINT = re.compile(r"(?<=\d)\.(?=\d)")


def comma_figure(figure: Figure, kept: Collection[str]) -> None:
    """Write all numbers of a figure with decimal commas.

    Parameters
    ----------
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
