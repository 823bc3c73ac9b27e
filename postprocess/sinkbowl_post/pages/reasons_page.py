"""What ``sinkbowl compare`` says of a run's reasons: a short table, and a sentence a model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sinkbowl_post.comparing.compare import Comparison
from sinkbowl_post.comparing.reasons import HOLE, REMAINDER, REST, cautions, ride, sentence, told
from sinkbowl_post.pages.telling import tell, tell_line, tell_table

if TYPE_CHECKING:
    from rich.table import Table

    from sinkbowl.reduced.attribution.attribute import Reasons

TITLE = "What sets the difference: model minus flow"


def print_reasons(comparison: Comparison) -> None:
    """Print table and sentences; nothing where there is nothing to replay."""
    table = reasons_table(comparison)
    if table is None:
        return
    tell()
    tell_table(table)
    for line in reasons_words(comparison):
        tell_line(line)


def reasons_table(comparison: Comparison) -> Table | None:
    """A row a cause, a column a model; None where no model and no flow have both a time."""
    from rich.table import Table

    known = {name: one for name, one in comparison.reasons.items() if one is not None}
    if not known:
        return None
    table = Table(title=TITLE, title_justify="left", title_style="bold", box=None)
    table.add_column("")
    for name in known:
        table.add_column(name, justify="right")
    for row in reasons_rows(known, comparison.half_width):
        table.add_row(*row)
    return table


def reasons_words(comparison: Comparison) -> list[str]:
    """A sentence a model, and what to keep in mind."""
    half = comparison.half_width
    lines = [
        sentence(name, one, half, ride(comparison.flow, comparison.models[name]))
        for name, one in comparison.reasons.items()
        if one is not None
    ]
    return [line[0].upper() + line[1:] for line in lines] + cautions(comparison.reasons, half)


def reasons_rows(known: Mapping[str, Reasons], half: float | None) -> list[list[str]]:
    """Rows of causes that some model has."""

    def cells(values: Mapping[str, float | None]) -> list[str]:
        return [
            "" if value is None else told(value, half, known[name].total, signed=True)
            for name, value in values.items()
        ]

    shared = {name: one for name, one in known.items() if not one.note}
    terms = dict.fromkeys(term for one in shared.values() for term in one.terms)
    rows = [["total", *cells({name: one.total for name, one in known.items()})]]
    shown: dict[str, dict[str, float | None]] = {
        HOLE: {name: one.hole for name, one in known.items()},
        "forces": {name: one.forces for name, one in known.items()},
        **{
            f"  {term}": {name: one.terms.get(term) for name, one in known.items()}
            for term in terms
        },
        f"  {REST}": {name: one.rest if one.terms else None for name, one in known.items()},
        REMAINDER: {name: one.remainder for name, one in known.items()},
    }
    if not shared:
        return rows
    return rows + [[label, *cells(values)] for label, values in shown.items()]
