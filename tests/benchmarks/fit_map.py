"""Fits the surface through the map anew: ``python tests/benchmarks/fit_map.py``.

Solves heave for every bowl of map.csv (a minute or two), with the wall and the jet that the flow
had, and writes surface.toml beside the table, which gets heave's times anew: that is all there is
to do after a change of the model.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import numpy as np
import typer

from mapping.fit import fitted, known_of, written
from mapping.table import written as written_rows
from sinkbowl.corrected import flow_map
from sinkbowl.corrected.flow_map import MapRow, parsed
from sinkbowl.corrected.similarity import LEARNT_BY, similarity
from sinkbowl.corrected.surface import SURFACE
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.verification.flow_map import as_the_flow_sees_it


def _as_now(row: MapRow) -> MapRow:
    """A row with heave's time, and the numbers that follow from it, by the model as it is now."""
    known = known_of(row.bowl)
    time, share = known.heave_time, np.exp(known.like.x[LEARNT_BY.index("half")])
    numbers = similarity(meniscus_aside(as_the_flow_sees_it(row.bowl.case())), time)
    return replace(row, heave_time=time, heave_half=float(share * time), numbers=numbers)


def main(
    folder: Annotated[Path, typer.Argument(help="Folder of map.csv.")] = Path(
        flow_map.__file__
    ).parent,
) -> None:
    """Fit the surface through map.csv and write surface.toml beside it."""
    text = (folder / flow_map.TABLE).read_text(encoding="utf-8")
    remark = "\n".join(line[2:] for line in text.splitlines() if line.startswith("# "))
    rows = tuple(_as_now(row) for row in parsed(text))
    table = written_rows(rows, remark).encode()
    (folder / flow_map.TABLE).write_bytes(table)
    known = fitted(rows)
    (folder / SURFACE).write_text(written(known, table), encoding="utf-8")
    typer.echo(f"widened {known.surface.widening:.3f} times; {folder / SURFACE} written")


if __name__ == "__main__":
    typer.run(main)
