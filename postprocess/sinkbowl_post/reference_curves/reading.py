"""Points of the reference curves from result files, folders of them, and tables of curves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import read_result
from sinkbowl.sweeps.index import INDEX
from sinkbowl_post.reference_curves.points import RunPoint, point_of
from sinkbowl_post.reference_curves.table import read_table


def read_points(
    places: Sequence[Path], progress: Callable[[int, int], None] | None = None
) -> tuple[list[RunPoint], list[str]]:
    """Points of all results named, or lying in the folders named, and what was left out and why.

    A file that ends in .csv is a table of points that `curves` wrote.

    Raises
    ------
    ResultError : a place does not exist, a table is none, or no run of all of them sank
    """
    files = list(result_files(places))
    points: list[RunPoint] = []
    left_out: list[str] = []
    for done, path in enumerate(files, start=1):
        if path.suffix.lower() == ".csv":
            points.extend(read_table(path))
        else:
            result = read_result(path)
            if result.sinking_time is None:
                left_out.append(f"{path.name}: {result.outcome or result.status}")
            elif not len(result.history["t"]):
                left_out.append(f"{path.name}: has no history")
            else:
                points.append(point_of(result))
        if progress:
            progress(done, len(files))
    if not points:
        raise ResultError(f"None of {len(files)} results has a sinking time.")
    return sorted(points, key=lambda point: (point.mass_ratio, point.hole)), left_out


def result_files(places: Iterable[Path]) -> Iterable[Path]:
    """The files named, and the results in the folders named."""
    for place in places:
        if place.is_dir():
            yield from sorted(file for file in place.glob("[!.]*.h5") if file.name != INDEX)
        else:
            yield place
