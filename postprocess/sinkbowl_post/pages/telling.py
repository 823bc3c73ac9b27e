"""All that commands print goes through here, so that words of strangers stay words.

A test sees to it that no command, page or figure prints in another way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from sinkbowl.common.plain_text import for_terminal

if TYPE_CHECKING:
    from rich.table import Table


def tell(text: str = "") -> None:
    """Print text and end the line."""
    typer.echo(for_terminal(text))


def tell_table(table: Table) -> None:
    """Print a table of rich; title, caption and cells are text, whatever brackets they hold."""
    from rich.console import Console

    class PlainConsole(Console):
        """Takes no text for markup: rich makes all of its texts by this one method."""

        def render_str(self, text: str, **options: Any) -> Any:
            options.update(markup=False, emoji=False)
            return super().render_str(for_terminal(text), **options)

    PlainConsole().print(table)


def tell_line(text: str) -> None:
    """Print a long sentence, broken between words where the terminal ends."""
    from rich.console import Console
    from rich.text import Text

    Console().print(Text(for_terminal(text)), highlight=False)
