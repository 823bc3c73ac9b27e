"""Makes the map anew: ``python tests/benchmarks/make_map.py FOLDER``.

Computes what FOLDER/releases.csv does not hold yet, which may be broken off and gone on with at any
time, and writes map.csv and surface.toml there; ``--ship`` puts them into the package. First come
the designed bowls, then, in batches, those of a pool of candidates of which the fit is least sure
(mapping/design.py).
"""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Annotated

import typer

from mapping.design import CANDIDATES, FITTED, KEPT_OUT, Family, drawn_bowls, least_sure
from mapping.fit import fitted
from mapping.fit import written as surface_text
from mapping.releases import MEMBERS, Release, compute, missing, read
from mapping.table import candidate_rows, map_rows, written
from sinkbowl.corrected import flow_map
from sinkbowl.corrected.flow_map import MapBowl, MapRow
from sinkbowl.corrected.surface import SURFACE, Learnt

BATCH = 30
"""Bowls chosen at once."""


def main(
    folder: Annotated[Path, typer.Argument(help="Folder for releases, map and surface.")],
    chosen: Annotated[
        int, typer.Option(help="Number of bowls to choose in addition to the designed ones.")
    ] = 400,
    workers: Annotated[
        int | None, typer.Option(help="Number of processes; default: one per core.")
    ] = None,
    ship: Annotated[bool, typer.Option("--ship", help="Put the map into the package.")] = False,
) -> None:
    """Make the map of the flow solver's sinking times anew."""
    folder.mkdir(parents=True, exist_ok=True)
    table = folder / "releases.csv"
    designed, kept_out = ([(f, drawn_bowls(f)) for f in group] for group in (FITTED, KEPT_OUT))
    wanted = [release for part in (*designed, *kept_out) for release in _releases(*part)]
    compute(table, missing(table, wanted), workers, _told)
    bowls = [bowl for _, part in designed for bowl in part]
    out = [bowl for _, part in kept_out for bowl in part]
    pool = candidate_rows([bowl for family in CANDIDATES for bowl in drawn_bowls(family)])
    while True:
        done = {line["bowl"] for line in read(table)}
        extra = [row.bowl for row in pool if row.bowl.name in done]
        rows = map_rows(table, [*bowls, *extra], out)
        known = fitted(rows)
        if len(extra) >= chosen:
            break
        left = [row for row in pool if row.bowl.name not in done]
        picks = least_sure(known.surface, left, min(BATCH, chosen - len(extra)))
        compute(table, [(left[k].bowl, 0) for k in picks], workers, _told)
    _write(folder, rows, known)
    if ship:
        _write(Path(flow_map.__file__).parent, rows, known)


def _releases(family: Family, bowls: list[MapBowl]) -> list[Release]:
    return [(bowl, member) for bowl in bowls for member in range(MEMBERS[family.middle])]


def _told(done: int, total: int) -> None:
    typer.echo(f"{done} of {total} releases", err=True)


def _write(folder: Path, rows: tuple[MapRow, ...], known: Learnt) -> None:
    """Table and surface, which knows the table's checksum."""
    text = written(
        rows,
        f"sinkbowl {version('sinkbowl')}: make_map.py FOLDER --ship, "
        f'{datetime.now(UTC):%Y-%m-%d}; answer = "quick"\n'
        "Sinking times of the flow solver and of heave with the same wall and jet (C = 0.5913\n"
        "where the grid resolves the hole). Last columns: corrected/similarity.py.",
    ).encode()
    (folder / flow_map.TABLE).write_bytes(text)
    (folder / SURFACE).write_text(surface_text(known, text), encoding="utf-8")


if __name__ == "__main__":
    typer.run(main)
