"""Integration of heave and falling body from a state to an event, in prescribed steps.

The step is the W-method of second order ROS2 (Verwer, Spee, Blom & Hundsdorfer 1999, SIAM J. Sci.
Comput. 20, 1456; from memory; a test checks its order), with gamma = 1 - 1/sqrt(2) and J near the
Jacobian:

    (1 - gamma h J) k_1 = f(y_n),   (1 - gamma h J) k_2 = f(y_n + h k_1) - 2 k_1,
    y_n+1 = y_n + h (3 k_1 + k_2) / 2.

It is L-stable: a narrow hole makes the equations stiff. It is of second order for any J, so J may
be some steps old. Steps have a constant length and, later, a share `step_share` of the elapsed
time: a slow sinking takes some thousand steps for any duration. Landing within a step is known
before it (flight.py). An event is where a function of the state increases through zero; the step is
repeated with that length. A step in which the draft has a maximum beyond the rim, or beyond the
edge of water over it, ends at the maximum.
"""

import math
from typing import NamedTuple

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.compiled import kernel, part

from .falling import falling_rates
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
    ALOFT,
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
    heave_rates,
)
from .levels import level_of

HEAVE, FALLING = range(2)

RIM_UNDER, OVER, FULL, REST, STANDSTILL, LATE, WET = range(7)
LANDS, RUNS_IN, TIMES = range(7, 10)
"""Events by their index in `times` [s]: those that end a leg or a step (hole full, water on the
base); then the first landing, and the time from which all water acts against the jet."""

MANY_ROWS, MANY_CELLS, LOST = -1, -2, -3
"""Reasons for an end without an event: no space for rows or cells; values not finite."""

TIME, ROW_LEVEL, ROW_ALOFT, ROW = 0, STATE + 1, STATE + 2, STATE + 3
"""Columns of the rows: time, the state, height of all water's level [m], mass aloft [kg]."""

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)

NUDGE, LEAST = 1e-6, 0.1
"""Relative step of a component for differences, and minimum step as a share of its size."""

RENEWED = 4
"""Steps after which the Jacobian is renewed."""

AT_REST = 0.01
"""Share of the starting head at which head and velocity heads together count as rest."""

FIRST, GROWTH = 1e-4, 1.5
"""First step of a phase over `dt`, for a narrow hole after a push, and growth of the following ones
up to `dt`."""

REACHED = 1e-12
"""An event's function this close below zero counts as reached at the start of a leg."""

CLOSE, MOST_TRIES = 1e-12, 60
"""Accuracy of an event as a share of a step, and maximum number of iterations."""

COARSER = 4.0
"""Longer steps once the rim is under: they do not count in the sinking time."""

LEAST_STEP = 1e-3
"""Minimum share of a step that is shortened to end at the maximum of the draft."""

CELL_RATE, WAY_NEXT, AIR = 4, 5, 6
"""Further entries of `air`: rate at which mass leaves the pool [kg/s]; distance run by the first
landed water in the step [m]; number of entries."""


class Room(NamedTuple):
    """Scratch arrays: told, ahead (TERMS,); jacobian (STATE, STATE), matrix (STATE, 2 STATE); new,
    at, rate, beside, k_1, k_2 (STATE,); air, later (AIR,); shares (holes,)."""

    told: FloatArray
    ahead: FloatArray
    jacobian: FloatArray
    matrix: FloatArray
    new: FloatArray
    at: FloatArray
    rate: FloatArray
    beside: FloatArray
    k_1: FloatArray
    k_2: FloatArray
    air: FloatArray
    later: FloatArray
    shares: FloatArray


@part
def rates_of(model, bowl, y, air, phase, shares, told, rates):
    """Rates of the state by a model."""
    if model == HEAVE:
        heave_rates(bowl, y, air, phase, shares, told, rates)
    else:
        falling_rates(bowl, y, rates)


@part
def differentiate(model, bowl, y, phase, sizes, room):
    """Jacobian of the rates at y by differences forwards."""
    at, here = room.at, room.beside
    for i in range(STATE):
        at[i] = y[i]
    gap = 0.0
    for j in range(-1, STATE):
        if j >= 0:
            at[j] = y[j] + NUDGE * max(abs(y[j]), LEAST * sizes[j])
            gap = at[j] - y[j]
        rates_of(model, bowl, at, room.air, phase, room.shares, room.ahead, room.rate)
        for i in range(STATE):
            if j >= 0:
                room.jacobian[i, j] = (room.rate[i] - here[i]) / gap
            else:
                here[i] = room.rate[i]
        if j >= 0:
            at[j] = y[j]


@part
def invert(h, jacobian, matrix):
    """Put 1 - gamma h J left into the matrix and its inverse right (Gauss and Jordan, pivots)."""
    n = STATE
    for i in range(n):
        for j in range(n):
            matrix[i, j] = -GAMMA * h * jacobian[i, j]
            matrix[i, n + j] = 0.0
        matrix[i, i] += 1.0
        matrix[i, n + i] = 1.0
    for c in range(n):
        p = c
        for i in range(c + 1, n):
            if abs(matrix[i, c]) > abs(matrix[p, c]):
                p = i
        for j in range(2 * n):
            matrix[c, j], matrix[p, j] = matrix[p, j], matrix[c, j]
        scale = 1.0 / matrix[c, c]
        for j in range(2 * n):
            matrix[c, j] *= scale
        for i in range(n):
            if i != c:
                factor = matrix[i, c]
                for j in range(2 * n):
                    matrix[i, j] -= factor * matrix[c, j]


@part
def times_inverse(matrix, vector, out):
    """The inverse in a matrix's right times a vector."""
    for i in range(STATE):
        out[i] = 0.0
        for j in range(STATE):
            out[i] += matrix[i, STATE + j] * vector[j]


@part
def step(model, bowl, y, phase, h, room):
    """State `new` after a step of h, with W limited to 0 and the brim."""
    air, later, at, rate, new = room.air, room.later, room.at, room.rate, room.new
    for k in range(AIR):
        later[k] = air[k]
    for i in range(STATE):
        at[i] = new[i] = y[i]
    for stage in range(2):
        rates_of(model, bowl, at, later, phase, room.shares, room.ahead, rate)
        for i in range(STATE):
            rate[i] -= 2.0 * stage * room.k_1[i]
        k = room.k_2 if stage else room.k_1
        times_inverse(room.matrix, rate, k)
        for i in range(STATE):
            at[i] = y[i] + h * k[i]
            new[i] += (0.5 if stage else 1.5) * h * k[i]
        later[ALOFT] = max(air[ALOFT] + h * (air[CELL_RATE] - air[RATE]), 0.0)
        later[WAY] = air[WAY] + air[WAY_NEXT]
    new[WATER] = min(max(new[WATER], 0.0), bowl.capacity)


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
    invert(h, room.jacobian, room.matrix)
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
    dt, step_share : first step of a phase [s]; share of the phase's time that steps grow to
    sizes : (STATE,) of the state's components
    rows : (n, ROW) of each moment; cells : (m, CELL); times : (TIMES,), nan before the event
    """
    air, told = room.air, room.told
    n, count = np.int64(0), np.int64(0)  # literals would cause a second compilation
    pace, steps, began, longest = 0.0, 0, t, FIRST * dt
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
            steps += 1
            high = min(max(dt, step_share * (t - began)), longest)
            longest *= GROWTH
            low, below, above, h = 0.0, value, 0.0, high
            tries, side, after, first, whole = 0, 0, pace, t, True
            # Illinois method: secant with the value of a retained side halved.
            while True:
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
