"""The reference curves as a CSV table with its origin: writing and reading.

Also points from result files and folders of them.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import ResultError
from sinkbowl.common.shown import for_csv, from_csv
from sinkbowl.common.text_file import Table, TableRow, csv_text
from sinkbowl.common.text_file import read_table as table_of
from sinkbowl.corrected import MODELS
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_reading import LONGEST_TITLE
from sinkbowl.reduced import falling, heave, quasi_static
from sinkbowl.reduced.attribution.attribute import Reasons
from sinkbowl.reduced.attribution.modified_models import ModifiedFalling
from sinkbowl.reduced.attribution.residuals import INSIDE, OUTSIDE, POCKET
from sinkbowl.scatter.interval import GRIDS, MEMBERS, TABLE, TimeInterval, other_of, resolved
from sinkbowl.sweeps.index import INDEX
from sinkbowl_post.comparing.reasons import HOLE, REMAINDER, REST, causes
from sinkbowl_post.reference_curves.points import RunPoint, models_of, point_of

LARGEST_FILE = 1_000_000  # largest table [bytes]

CAUSES = {
    quasi_static.MODEL: (HOLE, "bowl out of balance", REST, REMAINDER),
    heave.MODEL: (HOLE, *INSIDE, "water inside", POCKET, *OUTSIDE, REST, REMAINDER),
    falling.MODEL: (*ModifiedFalling.forces, REST, REMAINDER),
}
"""Columns of the contributions to each model's difference."""

OLD_REMAINDER = "not shared out"  # name of that column in tables of earlier versions

YES_NO = ("yes", "no")


def rows(points: Sequence[RunPoint]) -> list[dict[str, Any]]:
    """One row per run; missing numbers are empty cells."""
    names = models_of(points)
    return [
        {
            "title": for_csv(point.title),
            "hole [mm]": f"{1e3 * point.hole:.4g}",
            "hole_ratio [1]": f"{point.hole_ratio:.5f}",
            "mass_ratio [1]": f"{point.mass_ratio:.5f}",
            "bowl_height [mm]": f"{1e3 * GRAVITY * point.scale**2:.6g}",
            "sinking_time [s]": f"{point.time:.6g}",
            "mean [s]": f"{point.interval.mean:.6g}",
            "low [s]": f"{point.interval.low:.6g}",
            "high [s]": f"{point.interval.high:.6g}",
            "scatter [s]": f"{point.interval.scatter:.6g}",
            "scatter_from": point.interval.scatter_from,
            "grid [s]": f"{point.interval.grid:.6g}",
            "grid_from": point.interval.grid_from,
            "other": point.interval.other_text,
            "members": str(point.interval.members),
            "dimensionless_time [1]": f"{point.time / point.scale:.6g}",
            **{f"{name} [s]": _cell(point.models.get(name)) for name in names},
            "discharge_over_models [1]": _cell(point.discharge),
            "speed_over_free_fall [1]": _cell(point.inertia),
            "jet_over_weight [1]": _cell(point.jet),
            "over_rim_first": "yes" if point.overflow else "no",
            "plugged": "yes" if point.plugged else "no",
            "result": for_csv(point.path.name),
            **_reason_cells(point),
        }
        for point in points
    ]


def curves_csv(points: Sequence[RunPoint], comma: bool = False) -> str:
    """The table, with comments on its origin."""
    remarks = (
        f"sinkbowl {version('sinkbowl')}: sinkbowl curves RESULTS -o TABLE.csv",
        "Time until the rim is under, flow solver and reduced models; H the bowl's",
        "height: dimensionless_time = sinking_time sqrt(g / H), hole_ratio = d / D.",
        "low, high: its interval, 95 %; scatter (numerical noise) and grid are the halves of",
        "that width by the one and the other alone, and together by the root of squares.",
    )
    table = rows(points)
    return csv_text([*table[0]], ([*row.values()] for row in table), remarks, comma)


def read_table(path: Path) -> list[RunPoint]:
    """Points of a table that `curves_csv` wrote.

    Raises CaseError if the file is missing or not a table; ResultError if it is another table, with
    line and column.
    """
    made_by = "`sinkbowl curves RESULTS -o TABLE.csv` writes one."
    table = table_of(path, LARGEST_FILE, "a table of curves", made_by)
    return [_point(_Row(table, line)) for line in table.lines]


SMALLEST, LARGEST = 1e-9, 1e9  # limits of the numbers of a table; beyond them figures have no axes


class _Row:
    """One line of the table; messages name it."""

    def __init__(self, table: Table, line: TableRow) -> None:
        self.path, self.number, self.number_text = table.path, line.number, table.number_text
        names = (heading.written for heading in table.headings)
        self.cells = dict(zip(names, line.cells, strict=True))

    def text(self, column: str) -> str:
        if column not in self.cells:
            raise ResultError(f"{self.path}, line {self.number}: has no column {column!r}")
        letters = len(self.cells[column])
        if letters > LONGEST_TITLE:
            raise ResultError(f"{self.path}, line {self.number}: {column!r} has {letters} letters")
        return self.cells[column]

    def number_or_none(self, column: str) -> float | None:
        return self.positive(column, signed=True) if self.text(column) else None

    def positive(self, column: str, signed: bool = False) -> float:
        cell = self.text(column)
        try:
            value = float(self.number_text(cell))
        except ValueError:
            value = math.nan
        if not (abs(value) <= LARGEST and (signed or value >= SMALLEST)):
            raise self.refused(column, f"{cell!r}, not a {'' if signed else 'positive '}number")
        return value

    def width(self, column: str) -> float:
        width = self.positive(column, signed=True)
        if width < 0.0:
            raise self.refused(column, "below 0")
        return width

    def one_of(self, column: str, known: Sequence[str]) -> str:
        cell = self.text(column)
        if cell not in known:
            raise self.refused(column, f"{cell!r}, not {' or '.join(known)}")
        return cell

    def other(self, column: str) -> dict[str, Any]:
        cell = self.text(column)
        try:
            return other_of(cell)
        except ValueError:
            raise self.refused(column, f"{cell!r}, not parts of a time") from None

    def refused(self, column: str, what: str) -> ResultError:
        return ResultError(f"{self.path}, line {self.number}: {column!r} is {what}")


def _point(row: _Row) -> RunPoint:
    return RunPoint(
        path=row.path.with_name(Path(from_csv(row.text("result"))).name or row.path.name),
        title=from_csv(row.text("title")),
        hole=1e-3 * row.positive("hole [mm]"),
        hole_ratio=row.positive("hole_ratio [1]"),
        mass_ratio=row.positive("mass_ratio [1]"),
        interval=_interval(row),
        scale=math.sqrt(1e-3 * row.positive("bowl_height [mm]") / GRAVITY),
        models={  # older tables have no corrected one
            name: row.number_or_none(f"{name} [s]") for name in MODELS if f"{name} [s]" in row.cells
        },
        discharge=row.number_or_none("discharge_over_models [1]"),
        inertia=row.positive("speed_over_free_fall [1]", signed=True),
        jet=row.positive("jet_over_weight [1]", signed=True),
        overflow=row.one_of("over_rim_first", YES_NO) == "yes",
        plugged=row.one_of("plugged", YES_NO) == "yes",
        reasons=_reasons(row),
    )


def _interval(row: _Row) -> TimeInterval:
    """Older tables have the scatter of the next run, converted to that of the mean."""
    ratio, members = row.positive("hole_ratio [1]"), int(row.positive("members"))
    mean, scatter = row.positive("sinking_time [s]"), row.width("scatter [s]")
    if "mean [s]" in row.cells:
        mean, other = row.positive("mean [s]"), row.other("other")
    else:
        scatter, other = scatter / math.sqrt(members + 1.0), resolved(ratio, "void")
    return TimeInterval(
        mean=mean,
        scatter=scatter,
        grid=row.width("grid [s]"),
        members=members,
        scatter_from=row.one_of("scatter_from", (MEMBERS, TABLE)),
        grid_from=row.one_of("grid_from", (GRIDS, TABLE)),
        hole_ratio=ratio,
        **other,
    )


def _column(model: str, cause: str) -> str:
    return f"{model}, {cause} [s]"


def _reason_cells(point: RunPoint) -> dict[str, str]:
    """Causes of each model's difference, model minus flow; empty if unknown."""
    cells = {}
    for model, names in CAUSES.items():
        reasons = point.reasons.get(model)
        found = {} if reasons is None or reasons.note else causes(reasons)
        for cause in names:
            cells[_column(model, cause)] = _cell(found.get(cause))
    return cells


def _reasons(row: _Row) -> dict[str, Reasons | None]:
    """The causes of a row, for models that have them."""
    reasons: dict[str, Reasons | None] = {}
    for model, names in CAUSES.items():
        columns = {cause: _column(model, cause) for cause in names}
        old = _column(model, OLD_REMAINDER)
        if old in row.cells:
            columns[REMAINDER] = old
        there = {c: row.number_or_none(name) for c, name in columns.items() if name in row.cells}
        found = {cause: value for cause, value in there.items() if value is not None}
        if not found:
            continue
        hole, rest, left = (found.pop(name, 0.0) for name in (HOLE, REST, REMAINDER))
        forces = sum(found.values()) + rest
        reasons[model] = Reasons(
            total=hole + forces + left,
            hole=hole,
            forces=forces,
            terms=found,
            rest=rest,
            remainder=left,
        )
    return reasons


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def read_points(
    places: Sequence[Path], progress: Callable[[int, int], None] | None = None
) -> tuple[list[RunPoint], list[str]]:
    """Points of all given results and folders, and those left out with the reason.

    A file that ends in .csv is a table of points that `curves` wrote. Raises ResultError if a place
    does not exist, a table is invalid, or no run sank.
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
    """The given files, and the results in the given folders."""
    for place in places:
        if place.is_dir():
            yield from sorted(file for file in place.glob("[!.]*.h5") if file.name != INDEX)
        else:
            yield place
