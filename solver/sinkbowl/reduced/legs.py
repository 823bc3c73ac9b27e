"""Calls of the kernels, and the columns of a sinking from their results."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import RunError
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.kernels import integration as kernels
from sinkbowl.reduced.kernels.bowl import Bowl
from sinkbowl.reduced.kernels.course_terms import terms_on_course
from sinkbowl.reduced.kernels.flight import CELL
from sinkbowl.reduced.kernels.heave import AIR, STATE, TERMS, TO_RIM
from sinkbowl.reduced.kernels.integration import ROW, TIME, TIMES
from sinkbowl.reduced.kernels.rosenbrock import Room
from sinkbowl.reduced.start import outcome_words
from sinkbowl.statics.hydrostatics import floats

HORIZON = 1e7  # longest sinking [s], 16 weeks
STEPS = 150  # steps per sqrt(2 head / g), the rise time of a fountain under the starting head
STEP_SHARE = 8e-3  # growth of later steps with the elapsed time

MOST_ROWS, MOST_CELLS = 60_000, 20_000
"""Maximum number of steps (a sinking within the horizon takes 20,000) and of cells aloft."""

SAMPLES = 1000  # times kept of a sinking, besides its events

EVENTS = {
    kernels.RIM_UNDER: "rim_under",
    kernels.OVER: "over_rim",
    kernels.FULL: "full",
    kernels.REST: "half_sunk",
}


@dataclass(frozen=True, eq=False)
class Leg:
    """Result of a kernel.

    rows : (n, ROW) of each step
    times : (TIMES,) of each event [s], nan if it did not happen
    stop : the event that ended it
    """

    rows: FloatArray
    times: FloatArray
    stop: int


def integrate(
    model: int,
    bowl: Bowl,
    state: FloatArray,
    floats: bool,
    *,
    start: float = 0.0,
    phase: int = TO_RIM,
    beyond: bool = False,
    latest: float = HORIZON,
    steps: int = STEPS,
    step_share: float = STEP_SHARE,
) -> Leg:
    """Integrate a model from a state (STATE,) until its rim is under, or beyond.

    Raises RunError if it does not end.
    """
    rise = math.sqrt(2.0 * bowl.head / GRAVITY)
    speed = math.sqrt(2.0 * GRAVITY * bowl.head)
    sizes = (bowl.head, speed, bowl.base_area * bowl.head, bowl.hole_area * speed, bowl.head)
    rows, cells = np.empty((MOST_ROWS, ROW)), np.empty((MOST_CELLS, CELL))
    times = np.full(TIMES, np.nan)
    stop, count = kernels.integrate(
        model, bowl, state.copy(), start, phase, beyond, floats, latest, rise / steps, step_share,
        np.array(sizes), rows, cells, times, _room(len(bowl.laws)),
    )  # fmt: skip
    if stop < 0 or (stop == kernels.LATE and latest == HORIZON):
        last = rows[count - 1, TIME]
        raise RunError(f"The reduced model did not end after {last:.4g} s.")
    return Leg(rows[:count].copy(), times, stop)


def terms_along(
    bowl: Bowl, t: FloatArray, course: FloatArray, air: Sequence[float] = ()
) -> FloatArray:
    """Terms of the heave equations (n, TERMS + AIR) along a course (n, STATE) at times t (n,).

    Their columns are named in kernels/heave.py and kernels/integration.py.

    air : at the first time; default: nothing aloft
    """
    rise = math.sqrt(2.0 * bowl.head / GRAVITY)
    out, room = np.empty((len(t), TERMS + AIR)), _room(len(bowl.laws))
    room.air[: len(air)] = air
    terms_on_course(bowl, t, course, rise / STEPS, np.empty((MOST_CELLS, CELL)), room, out)
    return out


def _room(holes: int) -> Room:
    shapes = (TERMS, TERMS, (STATE, STATE), (STATE, 2 * STATE), *(6 * [STATE]), AIR, AIR, holes)
    return Room._make(np.zeros(shape) for shape in shapes)


def sinking(case: Case, model: str, bowl: Bowl, leg: Leg) -> Sinking:
    """A leg from release on as the result of a model; a bowl that floats has no sinking time."""
    happened = {name: float(leg.times[place]) for place, name in EVENTS.items()}
    events = {"start": 0.0} | {name: t for name, t in happened.items() if not math.isnan(t)}
    rows = leg.rows[_kept(leg.rows[:, TIME], events)]
    t, draft, speed, water, flow, _, level, _ = rows.T
    return Sinking(
        model=model,
        t=t,
        draft=draft,
        speed=speed,
        inner_volume=water,
        inner_level=level - bowl.inner_edge,
        head=draft - level,
        hole_flow=flow,
        events=events,
        outcome=outcome_words(case, events),
        sinking_time=None if floats(case) else events.get("rim_under"),
    )


def _kept(t: FloatArray, events: dict[str, float]) -> FloatArray:
    """Indices of the rows (n,) kept: equidistant by number, by time, and the events."""
    by_number = np.linspace(0, len(t) - 1, min(SAMPLES, len(t))).astype(int)
    found = np.searchsorted(t, [*events.values()])
    return np.unique(np.concatenate((by_number, found.clip(0, len(t) - 1))))
