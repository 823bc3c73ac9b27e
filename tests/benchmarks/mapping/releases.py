"""All releases of the map, side by side; what a table already holds is not computed again.

The table grows by a line a release and is the only thing kept: a computation that is killed loses
the releases under way.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, as_completed
from pathlib import Path

from sinkbowl.common.errors import SinkbowlError
from sinkbowl.corrected.flow_map import MapBowl
from sinkbowl.running.process_pool import ProcessPool, cores

MEMBERS = {True: 3, False: 1}
"""Releases of a bowl with a hole in the middle range, and of any other."""

SEED = 0
HEADINGS = ("bowl", "member", "rim [s]", "half [s]", "trouble")

Release = tuple[MapBowl, int]


def missing(table: Path, releases: Iterable[Release]) -> list[Release]:
    """Those that a table does not hold yet."""
    done = {(row["bowl"], int(row["member"])) for row in read(table)}
    return [one for one in releases if (one[0].name, one[1]) not in done]


def read(table: Path) -> list[dict[str, str]]:
    """Lines of a table of releases; none where there is no table."""
    if not table.exists():
        return []
    with table.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def compute(
    table: Path,
    releases: Sequence[Release],
    workers: int | None = None,
    told: Callable[[int, int], None] | None = None,
) -> None:
    """Compute releases and add each to the table as it is done.

    told: called with how many are done, of how many.
    """
    with ProcessPool(workers or cores()) as pool:
        futures: dict[Future[tuple[float, float, str]], Release] = {
            pool.submit(_released, bowl, member): (bowl, member) for bowl, member in releases
        }
        for n, future in enumerate(as_completed(futures), start=1):
            bowl, member = futures[future]
            _add(table, (bowl.name, member, *future.result()))
            if told:
                told(n, len(futures))


def _released(bowl: MapBowl, member: int) -> tuple[float, float, str]:
    """Times [s], and what went wrong."""
    from sinkbowl.scatter import drawn
    from sinkbowl.verification.flow_map import released

    try:
        return (*released(bowl.case(), drawn(SEED, member)), "")
    except SinkbowlError as error:
        return float("nan"), float("nan"), str(error)


def _add(table: Path, line: tuple[object, ...]) -> None:
    fresh = not table.exists()
    with table.open("a", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        if fresh:
            writer.writerow(HEADINGS)
        writer.writerow(line)
