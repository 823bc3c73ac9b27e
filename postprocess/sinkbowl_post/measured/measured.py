"""Measurements: trials with a stopwatch, or a trace of the depth from a film.

A table of trials has one row per trial of a bowl, with any holes and ballast:

    no., hole [mm], hole_uncertainty [mm], mass [g], mass_uncertainty [g], time [s],
    time_uncertainty [s], outcome, remarks

``time`` runs from release until the rim is under; it is the only required column. Without a value,
hole and mass (bowl and ballast as weighed) are the case's; uncertainties are one standard
deviation, by default those of [uncertainty] in the case. The outcome is ``sinks`` (default with a
time); ``plugged``: set down gently, the bowl stayed afloat with its hole dry; ``floats``: it filled
and stayed afloat; ``tips``: it fell over; or ``failed``: the trial itself went wrong. All but the
first are counted and have no sinking time: a time beside ``tips`` or ``failed`` is ignored. A row
with only a number or remarks is not a trial. ``no.``, ``remarks``, ``date``, ``case_hash`` and
``version`` are notes, not used in computations.

A trace has one row per instant, ``t [s], draft [mm]`` and, if known, ``draft_uncertainty [mm]``:
the depth of the bowl's lowest point below the still water against the time.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sinkbowl.case.schema import LENGTH, LENGTH_UNCERTAINTY, MASS, MASS_UNCERTAINTY
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import plural
from sinkbowl.common.sinking import FloatArray
from sinkbowl.common.units import Kind, number_of
from sinkbowl_post.measured.table import Row, place_words, read_rows

SINKS, PLUGGED, FLOATS, TIPS, FAILED = "sinks", "plugged", "floats", "tips", "failed"
OUTCOMES = {
    SINKS: (SINKS, "sank", "sunk"),
    PLUGGED: (PLUGGED, "stayed plugged"),
    FLOATS: (FLOATS, "floated", "stayed afloat"),
    TIPS: (TIPS, "tipped", "capsizes", "capsized"),
    FAILED: (FAILED, "fails"),
}
"""Outcomes of a trial, and their spellings."""

SAID = {FLOATS: "afloat", TIPS: "tipped"}
"""Words for outcomes after a number of trials, if different."""

WITHOUT_TIME = (PLUGGED, FLOATS)  # outcomes that cannot have a time

TIME = Kind("a time", "s", "1 ms", "7 day", "12.4 s")
MOMENT = Kind("a time", "s", "-60 s", "7 day", "0.40 s")
DRAFT = Kind("a depth", "m", "-1 m", "10 m", "31 mm")
TIME_UNCERTAINTY = Kind("an uncertainty above 0", "s", "0.01 ms", "1 day", "0.1 s")
DRAFT_UNCERTAINTY = Kind("an uncertainty above 0", "m", "0.001 mm", "100 mm", "0.5 mm")

TRIAL_COLUMNS: dict[str, Kind | None] = {
    "no.": None,
    "hole": LENGTH,
    "hole_uncertainty": LENGTH_UNCERTAINTY,
    "mass": MASS,
    "mass_uncertainty": MASS_UNCERTAINTY,
    "time": TIME,
    "time_uncertainty": TIME_UNCERTAINTY,
    "outcome": None,
    "remarks": None,
    "date": None,
    "case_hash": None,
    "version": None,
}
TRACE_COLUMNS: dict[str, Kind | None] = {
    "t": MOMENT,
    "draft": DRAFT,
    "draft_uncertainty": DRAFT_UNCERTAINTY,
}

NOTES = ("no.", "remarks", "date", "case_hash", "version")  # columns not used in computations
FEWEST_INSTANTS = 5  # minimum number of rows of a trace


@dataclass(frozen=True)
class Trial:
    """One trial.

    row : in the file, as a spreadsheet counts; 0 without a file
    hole, mass : diameter [m]; bowl and ballast [kg]; None: the case's
    time : until the rim was under [s], None if it did not sink
    hole_uncertainty, mass_uncertainty, time_uncertainty : standard [SI], None: from [uncertainty]
    outcome : one of `OUTCOMES`
    number : of the sheet, its column "no."
    """

    row: int = 0
    hole: float | None = None
    mass: float | None = None
    time: float | None = None
    hole_uncertainty: float | None = None
    mass_uncertainty: float | None = None
    time_uncertainty: float | None = None
    outcome: str = SINKS
    number: str = ""

    @property
    def place(self) -> str:
        """'row 7 (no. 3)'."""
        return place_words(self.row, self.number) if self.row else "this trial"

    @property
    def plugged(self) -> bool:
        """Whether the meniscus in the hole held."""
        return self.outcome == PLUGGED


@dataclass(frozen=True)
class Trials:
    """All rows of one table of trials."""

    path: Path
    trials: tuple[Trial, ...]


@dataclass(frozen=True, eq=False)
class Trace:
    """Draft of one bowl against time.

    t, draft : (n,) [s], [m]; t ascending
    draft_uncertainty : (n,) standard [m], None if unknown
    """

    path: Path
    t: FloatArray
    draft: FloatArray
    draft_uncertainty: FloatArray | None


MOST_TRIALS = 1000


def read_measured(path: Path) -> Trials | Trace:
    """Read a table of trials or a trace, according to its heading.

    Raises CaseError for no such table, a column unknown or missing, a cell that is not a number or
    out of range, an outcome that contradicts its time, times of a trace that do not increase.
    """
    rows = read_rows(path, TRIAL_COLUMNS | TRACE_COLUMNS)
    columns = set(rows[0].cells)
    known = TRACE_COLUMNS if columns & set(TRACE_COLUMNS) else TRIAL_COLUMNS
    foreign, needed = columns - set(known), {"t", "draft"} if known is TRACE_COLUMNS else {"time"}
    if foreign:
        raise CaseError(
            f"Mixes the columns of a trace with those of trials: {', '.join(sorted(columns))}",
            file=path,
            allowed=f"A trace has {', '.join(TRACE_COLUMNS)}, trials {', '.join(TRIAL_COLUMNS)}.",
        )
    if needed - columns:
        raise CaseError(
            f"Has no column {', '.join(sorted(needed - columns))}",
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
    tried = [row for row in rows if any(row.cells[name] for name in columns - set(NOTES))]
    if not tried:
        raise CaseError("Has no row with a trial", file=path, allowed="Write one row per trial.")
    given = {name for name in columns if any(row.cells[name] for row in tried)}
    return Trials(path, tuple(_trial(row, given) for row in tried))


Measured = str | Path | Sequence[float | str] | Trials | Trace


def as_measured(given: Measured) -> Trials | Trace:
    """Measurements from a file, from times of one bowl [s, or text with a unit], or as they are."""
    if isinstance(given, Trials | Trace):
        return given
    if isinstance(given, str | Path):
        return read_measured(Path(given))
    if not given:
        raise CaseError("has no time", key="measured", allowed="Give the times of some trials.")
    return Trials(Path("trials"), tuple(Trial(time=number_of("time", one, TIME)) for one in given))


def counted(trials: Iterable[Trial]) -> dict[str, int]:
    """Number of trials of each outcome other than sinking, in the order of `OUTCOMES`."""
    found = Counter(trial.outcome for trial in trials)
    return {outcome: found[outcome] for outcome in list(OUTCOMES)[1:] if found[outcome]}


def counted_words(counts: Mapping[str, int]) -> str:
    """'2 plugged, 1 tipped'; empty where all sank."""
    return ", ".join(f"{count} {SAID.get(outcome, outcome)}" for outcome, count in counts.items())


def outcome_of(word: str) -> str | None:
    """The outcome of a word, or None."""
    word = " ".join(word.lower().split()) or SINKS
    return next((outcome for outcome, words in OUTCOMES.items() if word in words), None)


def _trial(row: Row, given: set[str]) -> Trial:
    time = row.number_of("time", TIME)
    outcome = outcome_of(row.cells.get("outcome", ""))
    if outcome is None:
        raise row.refused(
            "outcome", "is not an outcome of a trial", f"Allowed are {', '.join(OUTCOMES)}."
        )
    if outcome in WITHOUT_TIME and time is not None:
        raise row.refused(
            "time", f"is in a row that says {outcome}", "Leave it empty, or write sinks."
        )
    if outcome == SINKS and time is None:
        raise row.refused(
            "time", "is empty", f"Write the time, or the outcome: {', '.join(list(OUTCOMES)[1:])}."
        )
    return Trial(
        row=row.number,
        hole=row.wanted("hole", LENGTH) if "hole" in given else None,
        mass=row.wanted("mass", MASS) if "mass" in given else None,
        time=time if outcome == SINKS else None,
        hole_uncertainty=row.number_of("hole_uncertainty", LENGTH_UNCERTAINTY),
        mass_uncertainty=row.number_of("mass_uncertainty", MASS_UNCERTAINTY),
        time_uncertainty=row.number_of("time_uncertainty", TIME_UNCERTAINTY),
        outcome=outcome,
        number=row.cells.get("no.", ""),
    )


def _trace(path: Path, rows: list[Row]) -> Trace:
    t = np.array([row.wanted("t", MOMENT) for row in rows])
    draft = np.array([row.wanted("draft", DRAFT) for row in rows])
    late = np.flatnonzero(np.diff(t) <= 0.0)
    if late.size:
        row = rows[int(late[0]) + 1]
        raise row.refused("t", "is not later than the row before", "Times must increase.")
    if len(rows) < FEWEST_INSTANTS:
        raise CaseError(
            f"Has {plural(len(rows), 'row')}",
            file=path,
            allowed=f"A trace needs {FEWEST_INSTANTS} or more.",
        )
    uncertainty = None
    if "draft_uncertainty" in rows[0].cells:
        uncertainty = np.array([row.wanted("draft_uncertainty", DRAFT_UNCERTAINTY) for row in rows])
    return Trace(path, t, draft, uncertainty)
