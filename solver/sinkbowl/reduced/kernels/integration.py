"""Integration of heave and falling body from a state to an event, in prescribed steps.

The step is that of rosenbrock.py, whose Jacobian may be some steps old. Steps have a constant
length and later grow with the elapsed time by a share `step_share`: a slow sinking takes some
thousand steps for any duration. Landing within a step is known before it (flight.py). An event is
where a function of the state increases through zero; the step is repeated with that length. A step
in which the draft has a maximum beyond the rim, or beyond the edge of water over it, ends at the
maximum.
"""

import math

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.compiled import kernel, part

from .flight import (
    AHEAD,
    DOWN,
    HEIGHT,
    HEIGHT_2,
    MASS,
    START,
    START_2,
    UP,
    UP_2,
    come_down,
    drop_landed,
)
from .heave import (
    AIR,
    ALOFT,
    CELL_RATE,
    DRAFT,
    FLOW,
    FORCE_DOWN,
    LEAVES,
    LEVEL,
    OVER_EDGE,
    OVER_RIM,
    POOL,
    RATE,
    RISE,
    SHARE,
    SPEED,
    STATE,
    TO_RIM,
    WATER,
    WAY,
    WAY_NEXT,
    heave_rates,
)
from .levels import level_of
from .rosenbrock import FALLING, HEAVE, differentiate, invert, step

RIM_UNDER, OVER, FULL, REST, STANDSTILL, LATE, WET = range(7)
LANDS, RUNS_IN, TIMES = range(7, 10)
"""Events by their index in `times` [s]: those that end a leg or a step (hole full, water on the
base); then the first landing, and the time from which all water acts against the jet."""

MANY_ROWS, MANY_CELLS, LOST = -1, -2, -3
"""Reasons for an end without an event: no space for rows or cells; values not finite."""

TIME, ROW_LEVEL, ROW_ALOFT, ROW = 0, STATE + 1, STATE + 2, STATE + 3
"""Columns of the rows: time, the state, height of all water's level [m], mass aloft [kg]."""

RENEWED, LIKE = 16, 0.1
"""Steps after which the Jacobian is renewed, and relative difference of steps that share the
inverse."""

AT_REST = 0.01
"""Share of the starting head at which head and velocity heads together count as rest."""

FIRST, GROWTH = 1e-4, 1.5
"""First step of a phase over `dt`, for a narrow hole after a push, and growth of the following ones
up to `dt`."""

REACHED = 1e-12
"""An event's function this close below zero counts as reached at the start of a leg."""

CLOSE, MOST_TRIES = 1e-12, 60
"""Accuracy of an event as a share of a step, and maximum number of iterations."""

EVEN = 9.0
"""Steps grow from (1 + EVEN) / `step_share` of them on, once heave has died away."""

COARSER = 4.0
"""Longer steps once the rim is under: they do not count in the sinking time."""

LEAST_STEP = 1e-3
"""Minimum share of a step that is shortened to end at the maximum of the draft."""


@part
def ahead_of(model, bowl, t, y, phase, floats, latest, dry):
    """Value of the first event's function, negative before it, and which event it is."""
    best, which = t - latest, LATE
    if phase == TO_RIM:
        value = y[DRAFT] - bowl.rim
        if value > best:
            best, which = value, RIM_UNDER
    else:
        value = y[WATER] - bowl.capacity
        if value > best:
            best, which = value, FULL
        value = y[DRAFT] - bowl.give_way
        if phase == OVER_EDGE and value > best:
            best, which = value, OVER
    if dry:
        value = bowl.rim * (y[WATER] / bowl.plug - 1.0)
        if value > best:
            best, which = value, WET
    if floats and model == FALLING:
        value = -y[SPEED]
        if value > best:
            best, which = value, STANDSTILL
    if floats and model == HEAVE:
        level, _ = level_of(bowl.inner, y[WATER], y[DRAFT])
        left = abs(y[DRAFT] - level)
        left += (y[SPEED] ** 2 + (y[FLOW] / bowl.hole_area) ** 2) / (2.0 * GRAVITY)
        value = 1.0 - left / (AT_REST * bowl.head)
        if value > best:
            best, which = value, REST
    return best, which


@part
def peak_within(bowl, y, new, phase, h):
    """Time [s] in a step of a maximum of the draft beyond an edge not reached at either end; 0.0 if
    there is none. Between the ends the draft is a cubic."""
    edge = bowl.rim if phase == TO_RIM else bowl.give_way
    start, end, way = h * y[SPEED], h * new[SPEED], new[DRAFT] - y[DRAFT]
    if phase == OVER_RIM or start <= 0.0 or end >= 0.0:
        return 0.0
    # draft - y[DRAFT] = start s + b s^2 + c s^3, s = 0 .. 1; its slope falls through 0 once.
    b, c = 3.0 * way - 2.0 * start - end, start + end - 2.0 * way
    s = start / (math.sqrt(b * b - 3.0 * start * c) - b)
    if y[DRAFT] + s * (start + s * (b + s * c)) < edge or not LEAST_STEP < s < 1.0:
        return 0.0
    return s * h


@part
def launch(bowl, y, t, h, told, cell):
    """Start the cell of a step with the water leaving the pool; returns its mass flow [kg/s]."""
    up = told[LEAVES] - y[SPEED]
    cell[DOWN] = cell[AHEAD] = cell[MASS] = 0.0
    if y[FLOW] <= 0.0 or told[LEVEL] <= bowl.inner_edge or up <= 0.0:
        return 0.0
    height = told[POOL] - y[DRAFT]
    cell[START], cell[HEIGHT], cell[UP] = t, height, up
    cell[START_2], cell[HEIGHT_2], cell[UP_2] = t + h, height + h * (told[RISE] - y[SPEED]), up
    cell[MASS] = bowl.density * y[FLOW] * h
    return bowl.density * y[FLOW]


@part
def advance_flight(bowl, y, t, h, cells, count, room, pace):
    """Enter outflow and landing within a step into `air`; returns the speed over the base of the
    newest landed water [m/s] and the time of the first [s]."""
    air, told = room.air, room.told
    air[CELL_RATE] = launch(bowl, y, t, h, told, cells[count])
    surface, rise = told[POOL] - y[DRAFT], told[RISE] - y[SPEED]
    flying = count + 1 if cells[count, MASS] > 0.0 else count
    mass, momentum, first = come_down(cells, flying, t, h, surface, rise, told[RISE])
    air[RATE], air[FORCE_DOWN] = mass / h, momentum / h
    if mass > 0.0:
        pace = momentum / mass
    began = first if air[WAY] == 0.0 else t
    air[WAY_NEXT] = pace * (t + h - began) if mass > 0.0 or air[WAY] > 0.0 else 0.0
    return pace, first


@part
def attempt(model, bowl, y, t, h, phase, floats, latest, dry, cells, count, room, pace):
    """Take a step into `room.new`; returns the first event's function, the event, and the results
    of `advance_flight`."""
    first = t
    if model == HEAVE:
        pace, first = advance_flight(bowl, y, t, h, cells, count, room, pace)
    step(model, bowl, y, phase, h, room)
    value, which = ahead_of(model, bowl, t + h, room.new, phase, floats, latest, dry)
    return value, which, pace, first


@part
def accept(bowl, y, t, h, phase, cells, count, room):
    """Close the cell of a step, update landed masses, and set `told` for the new state; returns the
    number of cells."""
    air, new, told = room.air, room.new, room.told
    if cells[count, MASS] > 0.0:
        cells[count, MASS] = 0.5 * bowl.density * (y[FLOW] + max(new[FLOW], 0.0)) * h
        count += 1
    count, air[ALOFT] = drop_landed(cells, count)
    air[WAY] += air[WAY_NEXT]
    heave_rates(bowl, new, air, phase, room.shares, told, room.rate)
    if count > 0 and cells[count - 1, START_2] == t + h:
        cells[count - 1, HEIGHT_2] = told[POOL] - new[DRAFT]
        cells[count - 1, UP_2] = max(told[LEAVES] - new[SPEED], 0.0)
    return count


@part
def keep(rows, n, t, y, told, air):
    """Enter a row."""
    rows[n, TIME] = t
    for i in range(STATE):
        rows[n, 1 + i] = y[i]
    rows[n, ROW_LEVEL] = told[LEVEL]
    rows[n, ROW_ALOFT] = air[ALOFT]


@kernel
def integrate(
    model,
    bowl,
    y,
    t,
    phase,
    beyond,
    floats,
    latest,
    dt,
    step_share,
    sizes,
    rows,
    cells,
    times,
    room,
):
    """Integrate to an event; returns the event (negative: reason for none) and the number of rows.

    y (STATE,), t : state and time [s] at the start, of the phase `phase`
    beyond : whether to go on after the rim is under, until the bowl is full or at rest
    floats : whether it is lighter than water, so that it comes to rest
    latest : latest end [s]
    dt, step_share : first step of a phase [s]; growth of later ones over the phase's time
    sizes : (STATE,) of the state's components
    rows : (n, ROW) of each moment; cells : (m, CELL); times : (TIMES,), nan before the event
    """
    air, told = room.air, room.told
    n, count = np.int64(0), np.int64(0)  # literals would cause a second compilation
    pace, steps, began, longest, inverted = 0.0, 0, t, FIRST * dt, 0.0
    for k in range(AIR):
        air[k] = 0.0
    if model == HEAVE:
        heave_rates(bowl, y, air, phase, room.shares, told, room.rate)
    keep(rows, n, t, y, told, air)
    n += 1
    dry = model == HEAVE and y[WATER] < bowl.plug
    while True:
        value, which = ahead_of(model, bowl, t, y, phase, floats, latest, dry)
        if value < -REACHED:
            if n == rows.shape[0]:
                return MANY_ROWS, n
            if count + 1 >= cells.shape[0]:
                return MANY_CELLS, n
            if steps % RENEWED == 0 or longest < dt:
                differentiate(model, bowl, y, phase, sizes, room)
                inverted = 0.0
            steps += 1
            high = min(max(dt, step_share * (t - began) - EVEN * dt), longest)
            longest *= GROWTH
            low, below, above, h = 0.0, value, 0.0, high
            tries, side, after, first, whole = 0, 0, pace, t, True
            # Illinois method: secant with the value of a retained side halved.
            while True:
                if abs(h - inverted) > LIKE * h:
                    invert(h, room.jacobian, room.matrix)
                    inverted = h
                value, which, after, first = attempt(
                    model, bowl, y, t, h, phase, floats, latest, dry, cells, count, room, pace
                )
                if whole:
                    whole, peak = False, peak_within(bowl, y, room.new, phase, h)
                    if peak > 0.0:
                        h = high = peak
                        continue
                if h == high and (value < 0.0 or tries > 0):
                    break
                if tries == MOST_TRIES:
                    return LOST, n
                if h == high:
                    above = value
                elif value >= 0.0:
                    high, above = h, value
                    below *= 0.5 if side > 0 else 1.0
                    side = 1
                else:
                    low, below = h, value
                    above *= 0.5 if side < 0 else 1.0
                    side = -1
                tries += 1
                h = high - above * (high - low) / (above - below)
                if not low < h < high or high - low <= CLOSE * dt:
                    h = high
            pace = after
            for i in range(STATE):
                if not math.isfinite(room.new[i]):
                    return LOST, n
            if model == HEAVE:
                if math.isnan(times[LANDS]) and air[WAY_NEXT] > 0.0:
                    times[LANDS] = first
                count = accept(bowl, y, t, h, phase, cells, count, room)
                if math.isnan(times[RUNS_IN]) and told[SHARE] >= 1.0:
                    times[RUNS_IN] = t + h
            t += h
            for i in range(STATE):
                y[i] = room.new[i]
            keep(rows, n, t, y, told, air)
            n += 1
        if value >= -REACHED:
            if math.isnan(times[which]):
                times[which] = t
            if which == RIM_UNDER and beyond and model == HEAVE:
                dt, step_share = COARSER * dt, COARSER * step_share
                phase, steps, began, longest = OVER_EDGE, 0, t, FIRST * dt
            elif which == OVER:
                phase, steps, began, longest = OVER_RIM, 0, t, FIRST * dt
            elif which == WET:
                dry = False
                y[WATER] = max(y[WATER], bowl.plug * (1.0 + REACHED))
                heave_rates(bowl, y, air, phase, room.shares, told, room.rate)
                steps = 0
            else:
                return which, n
