"""What was measured at the tub: trials with a stopwatch, or a trace of the depth from a film.

A table of trials has a row a trial, of one bowl in whatever holes and with whatever ballast:

    hole [mm], hole_uncertainty [mm], mass [g], mass_uncertainty [g], time [s],
    time_uncertainty [s], outcome

``time`` runs from release until the rim is under; it is the only column that has to be there. The
hole is the bowl's own where the column is left out, the mass (bowl and ballast as weighed)
likewise; uncertainties are one standard deviation and otherwise those of [spread] in the case. The
outcome is ``sinks`` (taken for granted) or ``plugged``: set down gently, the bowl stayed afloat
with its hole dry; such a trial has no time. ``date``, ``case_hash`` and ``version`` are what the
logbook notes beside a trial; nothing is computed from them.

A trace has a row an instant, ``t [s], draft [mm]`` and, if known, ``draft_uncertainty [mm]``: the
depth of the bowl's lowest point below the still water against the time.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sinkbowl.case.schema import LENGTH, LENGTH_SPREAD, MASS, MASS_SPREAD
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.common.units import Kind
from sinkbowl_post.measured.table import Row, read_rows

SINKS, PLUGGED = "sinks", "plugged"

TIME = Kind("a time", "s", "1 ms", "7 day", "12.4 s")
MOMENT = Kind("a time", "s", "-60 s", "7 day", "0.40 s")
DRAFT = Kind("a depth", "m", "-1 m", "10 m", "31 mm")
TIME_UNCERTAINTY = Kind("an uncertainty above 0", "s", "0.01 ms", "1 day", "0.1 s")
DRAFT_UNCERTAINTY = Kind("an uncertainty above 0", "m", "0.001 mm", "100 mm", "0.5 mm")

TRIAL_COLUMNS: dict[str, Kind | None] = {
    "hole": LENGTH,
    "hole_uncertainty": LENGTH_SPREAD,
    "mass": MASS,
    "mass_uncertainty": MASS_SPREAD,
    "time": TIME,
    "time_uncertainty": TIME_UNCERTAINTY,
    "outcome": None,
    "date": None,
    "case_hash": None,
    "version": None,
}
TRACE_COLUMNS: dict[str, Kind | None] = {
    "t": MOMENT,
    "draft": DRAFT,
    "draft_uncertainty": DRAFT_UNCERTAINTY,
}

FEWEST_INSTANTS = 5
"""Rows below which a trace shows no course."""


@dataclass(frozen=True)
class Trial:
    """One bowl let go once.

    Attributes
    ----------
    row : in the file, as a spreadsheet counts
    hole, mass : diameter [m]; bowl and ballast [kg]; None where it is the case's own
    time : until the rim was under [s], None for a bowl that stayed plugged
    hole_uncertainty, mass_uncertainty, time_uncertainty : standard [SI], None where [spread] says
    """

    row: int
    hole: float | None
    mass: float | None
    time: float | None
    hole_uncertainty: float | None
    mass_uncertainty: float | None
    time_uncertainty: float | None

    @property
    def plugged(self) -> bool:
        """Whether the meniscus in the hole held."""
        return self.time is None


@dataclass(frozen=True)
class Trials:
    """All rows of one table of trials."""

    path: Path
    trials: tuple[Trial, ...]


@dataclass(frozen=True, eq=False)
class Trace:
    """Draft of one bowl against time.

    Attributes
    ----------
    t, draft : (n,) [s], [m]; t ascending
    draft_uncertainty : (n,) standard [m], None where it is not known
    """

    path: Path
    t: FloatArray
    draft: FloatArray
    draft_uncertainty: FloatArray | None


MOST_TRIALS = 1000


def read_measured(path: Path) -> Trials | Trace:
    """Read a table of trials or a trace; its heading says which.

    Raises
    ------
    CaseError : no such table, a column unknown or missing, a cell that is no number or out of
        range, an outcome that contradicts its time, times of a trace that do not ascend
    """
    rows = read_rows(path, TRIAL_COLUMNS | TRACE_COLUMNS)
    columns = set(rows[0].cells)
    known = TRACE_COLUMNS if columns & set(TRACE_COLUMNS) else TRIAL_COLUMNS
    foreign, needed = columns - set(known), {"t", "draft"} if known is TRACE_COLUMNS else {"time"}
    if foreign:
        raise CaseError(
            f"Mixes a trace with trials: {', '.join(sorted(columns))}",
            file=path,
            allowed=f"A trace has {', '.join(TRACE_COLUMNS)}, trials {', '.join(TRIAL_COLUMNS)}.",
        )
    if needed - columns:
        raise CaseError(
            f"Lacks the column {', '.join(sorted(needed - columns))}",
            file=path,
            allowed="Trials need time [s], a trace t [s] and draft [mm].",
        )
    if known is TRACE_COLUMNS:
        return _trace(path, rows)
    if len(rows) > MOST_TRIALS:
        raise CaseError(
            f"Has {len(rows)} trials",
            file=path,
            allowed=f"At most {MOST_TRIALS} are read: keep each bowl's trials in its own table.",
        )
    return Trials(path, tuple(_trial(row) for row in rows))


def _trial(row: Row) -> Trial:
    time = row.number_of("time", TIME)
    word = row.cells.get("outcome", "").lower() or SINKS
    if word not in (SINKS, PLUGGED):
        raise row.refused(
            "outcome", "is no outcome that can be fitted", f"Allowed are {SINKS} and {PLUGGED}."
        )
    if word == PLUGGED and time is not None:
        raise row.refused(
            "time", "stands in a row that says plugged", "Leave it empty, or write sinks."
        )
    if word == SINKS and time is None:
        raise row.refused("time", "is empty", "Write the time, or plugged as the outcome.")
    return Trial(
        row=row.number,
        hole=row.wanted("hole", LENGTH) if "hole" in row.cells else None,
        mass=row.wanted("mass", MASS) if "mass" in row.cells else None,
        time=time,
        hole_uncertainty=row.number_of("hole_uncertainty", LENGTH_SPREAD),
        mass_uncertainty=row.number_of("mass_uncertainty", MASS_SPREAD),
        time_uncertainty=row.number_of("time_uncertainty", TIME_UNCERTAINTY),
    )


def _trace(path: Path, rows: list[Row]) -> Trace:
    t = np.array([row.wanted("t", MOMENT) for row in rows])
    draft = np.array([row.wanted("draft", DRAFT) for row in rows])
    late = np.flatnonzero(np.diff(t) <= 0.0)
    if late.size:
        row = rows[int(late[0]) + 1]
        raise row.refused("t", "is not later than the row before", "Times have to ascend.")
    if len(rows) < FEWEST_INSTANTS:
        raise CaseError(
            f"Has {len(rows)} rows", file=path, allowed=f"A trace needs {FEWEST_INSTANTS} or more."
        )
    uncertainty = None
    if "draft_uncertainty" in rows[0].cells:
        uncertainty = np.array([row.wanted("draft_uncertainty", DRAFT_UNCERTAINTY) for row in rows])
    return Trace(path, t, draft, uncertainty)
