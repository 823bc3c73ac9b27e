"""The water aloft: cells between two neighbouring markers, each in free flight.

A marker left the pool at the time s from the height y over the still surface with the upward speed
u, both in the laboratory. The pool's surface at S, rising with S', catches it after

    tau = {(u - S') + sqrt[(u - S')^2 + 2 g (y - S)]} / g,

where the root is the speed with which they meet. A cell comes down evenly between the moments at
which its two ends do, so landing is a smooth function of time whatever the steps, and a cell that
flies for less than a step comes down within it.
"""

import math

from sinkbowl.common.constants import GRAVITY
from sinkbowl.compiled import part

START, HEIGHT, UP, START_2, HEIGHT_2, UP_2, MASS, DOWN, AHEAD = range(9)
"""Rows of the cells: its ends' moments [s], heights [m] and speeds [m/s]; its mass, that which has
come down, and that which will have at the end of the step [kg]."""

CELL = 9


@part
def meeting(start, height, up, now, surface, rise):
    """Moment at which a marker meets the surface [s], and the speed of their meeting [m/s]."""
    since = now - start
    here = height + since * (up - 0.5 * GRAVITY * since) - surface
    speed = up - GRAVITY * since - rise
    root = math.sqrt(max(speed**2 + 2.0 * GRAVITY * here, 0.0))
    return now + (speed + root) / GRAVITY, root


@part
def surely_aloft(start, height, up, now, dt, surface, rise):
    """Whether a marker is over the surface at the end of a step."""
    since = now + dt - start
    return height + since * (up - 0.5 * GRAVITY * since) > surface + rise * dt


@part
def come_down(cells, count, now, dt, surface, rise, pool_rise):
    """What comes down in a step: mass [kg], momentum in the bowl [kg m/s], first moment [s].

    Sets AHEAD of each cell.

    surface, rise : height of the pool over the still surface [m], and its rate [m/s]
    pool_rise : rate of the pool's level in the bowl [m/s]
    """
    mass = momentum = 0.0
    first = now + dt
    for k in range(count):
        cell = cells[k]
        cell[AHEAD] = cell[DOWN]
        if surely_aloft(
            cell[START], cell[HEIGHT], cell[UP], now, dt, surface, rise
        ) and surely_aloft(cell[START_2], cell[HEIGHT_2], cell[UP_2], now, dt, surface, rise):
            continue
        one, speed = meeting(cell[START], cell[HEIGHT], cell[UP], now, surface, rise)
        two, speed_2 = meeting(cell[START_2], cell[HEIGHT_2], cell[UP_2], now, surface, rise)
        early, late = min(one, two), max(one, two)
        share = (now + dt - early) / (late - early) if late > early else 1.0
        if early >= now + dt:
            share = 0.0
        cell[AHEAD] = max(cell[DOWN], min(share, 1.0) * cell[MASS])
        new = cell[AHEAD] - cell[DOWN]
        if new > 0.0:
            first = min(first, max(early, now))
            mass += new
            momentum += new * (0.5 * (speed + speed_2) - pool_rise)
    return mass, momentum, first


@part
def drop_landed(cells, count):
    """Take what came down as down, leave out cells that wholly have; how many stay, mass aloft."""
    kept, aloft = 0, 0.0
    for k in range(count):
        if cells[k, AHEAD] < cells[k, MASS]:
            aloft += cells[k, MASS] - cells[k, AHEAD]
            if kept < k:
                for row in range(CELL):
                    cells[kept, row] = cells[k, row]
            cells[kept, DOWN] = cells[kept, AHEAD]
            kept += 1
    return kept, aloft
