"""The plan of a sweep: varied keys, their values, and the case of every run.

Values come as a range ``6mm:92mm:12`` (first, last, how many; ``:log`` for equal ratios), as a list
``6mm,10mm,20mm``, or from a table: a row a run, a column a key with its unit, ``hole.diameter
[mm]``, or without one where cells have theirs, ``6 mm``. Every case of a plan has passed the
ordinary reader and the choice of its grid before anything is computed.
"""

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case, parse_case
from sinkbowl.case.keys import KeyValue, NumericKey, numeric_key, text_titled, text_with
from sinkbowl.case.rules import look_up
from sinkbowl.common.errors import CaseError, InputRefused
from sinkbowl.common.text_file import read_table

MOST_RUNS = 1000

RANGE_HINT = 'Write first:last:count, e.g. "6mm:92mm:12", with :log at the end for equal ratios.'

Values = str | Sequence[str | float]
"""Values of one key: a range or list as text, or a sequence; numbers are in SI units."""

Over = Mapping[str, Values] | Sequence[Mapping[str, str | float]]
"""Varied values: all pairs of the values of some keys, or one row per run."""


@dataclass(frozen=True)
class PlannedRun:
    """One run of a plan.

    name : number and values, unique in its plan: "03-21.6mm"
    values : in the order of the plan's keys
    case : of the run
    levels : number of grids
    members, seed : number and seed of releases; 1 for the case's own release
    """

    name: str
    values: tuple[KeyValue, ...]
    case: Case
    levels: int = 1
    members: int = 1
    seed: int = 0

    @property
    def file(self) -> str:
        """Name of its result file."""
        return f"{self.name}.h5"


@dataclass(frozen=True)
class SweepPlan:
    """All runs of a sweep.

    case : the varied case
    keys : varied keys
    runs : in the order of the values
    """

    case: Case
    keys: tuple[NumericKey, ...]
    runs: tuple[PlannedRun, ...]


def plan_sweep(
    case: Case, over: Over, levels: int = 1, members: int = 1, seed: int = 0
) -> SweepPlan:
    """The plan of a sweep, with grids and releases per run.

    Raises CaseError if a key is unknown, a value cannot be read, two runs are equal, there are none
    or too many, or a case cannot be computed.
    """
    if isinstance(over, Mapping):
        axes = [_axis(name, values) for name, values in over.items()]
        count = math.prod(map(len, axes))
        rows = list(product(*axes)) if count <= MOST_RUNS else []
        names = list(over)
    else:
        names = list(over[0]) if over else []
        count = len(over)
        for row in over:
            if odd := set(row) ^ set(names):
                raise CaseError(
                    "is not in every run", key=min(odd), allowed="Give the same keys for all runs."
                )
        rows = [tuple(_value(name, row[name]) for name in names) for row in over]
    if not names or not 1 <= count <= MOST_RUNS:
        raise CaseError(
            f"A sweep of {count if names else 0} runs",
            file=case.path,
            allowed=f"Vary at least one key, over 1 to {MOST_RUNS} runs in total.",
        )
    _check_different(rows)
    runs = []
    for n, picked in enumerate(rows, start=1):
        label = "-".join(re.sub(r"[^\w.+-]", "", value.short) for value in picked)
        name = f"{n:0{len(str(len(rows)))}d}-{label}"
        runs.append(PlannedRun(name, picked, varied_case(case, picked), levels, members, seed))
    return SweepPlan(case, tuple(numeric_key(name) for name in names), tuple(runs))


def varied_case(case: Case, values: Sequence[KeyValue]) -> Case:
    """The case with other values in its text, and titled by them.

    Raises CaseError as `parse_case`, or if a key is written in a way that cannot be replaced.
    """
    from sinkbowl.flow.layout import lay_out

    name = str(case.path) if case.path else f"{case.title}.toml"
    bowl = bowl_title(case, values)
    try:
        text = text_with(case.text, {value.key: value.written for value in values})
        text = text_titled(text, bowl)
    except InputRefused as error:
        keys = ", ".join(value.key for value in values)
        raise CaseError(str(error), file=name, key=keys, allowed=error.allowed) from None
    folder = case.path.parent if case.path else Path()
    plain = str.maketrans("._", "  ")  # "hole diameter"
    phrase = ", ".join(f"{value.key.translate(plain)} {value.short}" for value in values)
    other = replace(parse_case(text, folder, name), path=case.path, title=f"{bowl}, {phrase}")
    lay_out(other)
    return other


def bowl_title(case: Case, values: Sequence[KeyValue]) -> str:
    """Common title of the runs of a sweep, without the varied values.

    "Stainless cup, 40 mm hole" becomes "Stainless cup" if the hole is varied.
    """
    tables = tomllib.loads(case.text)
    old = [_as_number_and_unit(look_up(tables, value.key)) for value in values]
    stale = [re.compile(rf"(?<![\d.]){re.escape(a)}\s*{re.escape(b)}\b") for a, b in old if a]
    parts = [part.strip() for part in case.title.split(",")]
    kept = [part for part in parts if not any(words.search(part) for words in stale)]
    return ", ".join(kept) or case.title


def _as_number_and_unit(written: object) -> tuple[str, str]:
    """Number and unit of a value in a case file; empty if it is not there."""
    found = re.fullmatch(r"\s*([-+\d.eE]+)\s*(\D*?)\s*", str(written))
    return (found[1], found[2]) if found else ("", "")


def _axis(name: str, values: Values) -> list[KeyValue]:
    """All values of a key."""
    if not isinstance(values, str):
        return [_value(name, value) for value in values]
    if ":" not in values:
        return [_value(name, value) for value in values.split(",")]
    parts = [part.strip() for part in values.split(":")]
    if len(parts) not in (3, 4) or not parts[2].isdigit() or parts[3:] not in ([], ["log"]):
        raise CaseError("is not a range", key=name, given=values, allowed=RANGE_HINT)
    first, last, count = _value(name, parts[0]), _value(name, parts[1]), int(parts[2])
    if not 2 <= count <= MOST_RUNS:
        allowed = f"Give 2 to {MOST_RUNS} values."
        raise CaseError(f"has {count} values", key=name, given=values, allowed=allowed)
    if parts[3:] and not min(first.number, last.number) > 0.0:
        allowed = "Equal ratios need values above 0."
        raise CaseError("cannot be logarithmic", key=name, given=values, allowed=allowed)
    space = np.geomspace if parts[3:] else np.linspace
    between = space(first.number, last.number, count)[1:-1]
    key = numeric_key(name)
    return [first, *(key.value_like(float(x), parts[0]) for x in between), last]


def _value(name: str, given: str | float) -> KeyValue:
    try:
        return numeric_key(name).value(given)
    except InputRefused as error:
        dash = f" {RANGE_HINT}" if "-" in str(given)[1:] else ""
        raise CaseError(str(error), key=name, given=given, allowed=error.allowed + dash) from None


def _check_different(rows: Sequence[tuple[KeyValue, ...]]) -> None:
    """CaseError if two runs are equal."""
    seen = set()
    for row in rows:
        numbers = tuple(value.number for value in row)
        if numbers in seen:
            key, given = (", ".join(getattr(v, part) for v in row) for part in ("key", "short"))
            raise CaseError("is given twice", key=key, given=given, allowed="Give it only once.")
        seen.add(numbers)


LARGEST_FILE = 1_000_000  # largest table [bytes]

COLUMNS = "Name the keys in the first line, e.g. hole.diameter [mm], then write one line per run."


def read_runs(path: Path) -> list[dict[str, str]]:
    """Rows of a table of runs: dotted key and value with its unit.

    Raises CaseError if the file is missing or not a table, a column is not a numeric key or given
    twice, or a row has another number of cells.
    """
    table = read_table(path, LARGEST_FILE, "a table of runs", COLUMNS)
    for heading in table.headings:
        try:
            numeric_key(heading.name)
        except InputRefused as error:
            key = heading.written
            raise CaseError(str(error), file=path, key=key, allowed=error.allowed) from None
    names = [heading.name for heading in table.headings]
    if len(set(names)) < len(names):
        raise CaseError("Names a key twice", file=path, allowed="Give each key one column.")
    return [
        {
            heading.name: f"{table.number_text(cell)} {heading.unit}".strip()
            for heading, cell in zip(table.headings, line.cells, strict=True)
        }
        for line in table.lines
    ]
