"""Printing of commands; foreign texts are shown as plain text.

A test checks that no command, page or figure prints in another way.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import typer

from sinkbowl.common.shown import TextTable, for_terminal
from sinkbowl.common.sinking import SENSITIVE

if TYPE_CHECKING:
    from sinkbowl.case.case import Case


def print_out(content: str | Mapping[str, Any] = "") -> None:
    """Print text and end the line; figures as JSON, null for values that are not finite."""
    typer.echo(for_terminal(content) if isinstance(content, str) else json_text(content))


def print_measured(content: str | Mapping[str, Any], case: Case | None) -> None:
    """Print what was measured of a bowl, and beside it the best time of the bowl as described."""
    if case is not None:
        from sinkbowl.corrected.model import best_time
        from sinkbowl.design.budget.variation import meniscus_aside

        best = best_time(meniscus_aside(case))
        if not isinstance(content, str):
            content = {**content, "best": best.as_dict() if best else None}
        elif best is not None:
            content += f"\nThis bowl as described: {best} ({best.model})."
            content += f" {SENSITIVE}" if best.sensitive else ""
    print_out(content)


def print_aside(text: str) -> None:
    """Print a line on the error stream."""
    typer.echo(for_terminal(text), err=True)


def json_text(figures: Mapping[str, Any]) -> str:
    """Figures as JSON."""
    return json.dumps(_plain(figures), indent=2)


def _plain(value: Any) -> Any:
    """Numbers for JSON: no numpy types, null for nan."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def print_table(table: TextTable) -> None:
    """Print a table that fits the terminal; brackets in it are plain text."""
    from rich.console import Console
    from rich.table import Table

    class PlainConsole(Console):
        """Console without markup: rich makes all texts by this method."""

        def render_str(self, text: str, **options: Any) -> Any:
            options.update(markup=False, emoji=False)
            return super().render_str(for_terminal(text), **options)

    set_ = Table(
        title=table.title, title_justify="left", title_style="bold", box=None, pad_edge=False
    )
    for place, heading in enumerate(table.head):
        left = place in table.words
        set_.add_column(heading, justify="left" if left else "right", no_wrap=not place)
    for row in table.rows:
        set_.add_row(*row)
    PlainConsole().print(set_)
    if table.caption:
        print_line(table.caption)


def print_line(text: str) -> None:
    """Print a long sentence, wrapped at the width of the terminal."""
    from rich.console import Console
    from rich.text import Text

    Console().print(Text(for_terminal(text)), highlight=False)
