"""The water aloft: cells between two neighbouring markers, each in free flight.

A marker leaves the pool at time s, height y over the still surface, with the upward speed u, in the
laboratory frame. The pool's surface at S, rising with S', meets it after

    tau = {(u - S') + sqrt[(u - S')^2 + 2 g (y - S)]} / g,

where the root is their relative speed. A cell lands evenly between the times at which its two ends
land, so landing is a smooth function of time for any steps, also for flights shorter than a step.
"""

import math

from sinkbowl.common import GRAVITY
from sinkbowl.compiled import part

START, HEIGHT, UP, START_2, HEIGHT_2, UP_2, MASS, DOWN, AHEAD = range(9)
"""Rows of the cells: times [s], heights [m] and speeds [m/s] of the ends; mass, landed mass, and
landed mass at the end of the step [kg]."""

CELL = 9

KEPT = 0.25
"""Share of landed cells above which they are removed."""


@part
def meeting(start, height, up, now, surface, rise):
    """Time at which a marker meets the surface [s], and their relative speed [m/s]."""
    since = now - start
    here = height + since * (up - 0.5 * GRAVITY * since) - surface
    speed = up - GRAVITY * since - rise
    root = math.sqrt(max(speed**2 + 2.0 * GRAVITY * here, 0.0))
    return now + (speed + root) / GRAVITY, root


@part
def surely_aloft(start, height, up, now, dt, surface, rise):
    """Whether a marker is above the surface at the end of a step."""
    since = now + dt - start
    return height + since * (up - 0.5 * GRAVITY * since) > surface + rise * dt


@part
def come_down(cells, count, now, dt, surface, rise, pool_rise):
    """Landing in a step: mass [kg], momentum relative to the bowl [kg m/s], first time [s].

    Sets AHEAD of each cell.

    surface, rise : height of the pool over the still surface [m], and its rate [m/s]
    pool_rise : rate of the pool's level in the bowl [m/s]
    """
    mass = momentum = 0.0
    first = now + dt
    above, end = False, math.nan
    for k in range(count):
        cell = cells[k]
        cell[AHEAD] = cell[DOWN]
        before = above
        if cell[START] != end:  # otherwise both have this marker
            before = surely_aloft(cell[START], cell[HEIGHT], cell[UP], now, dt, surface, rise)
        end = cell[START_2]
        above = surely_aloft(end, cell[HEIGHT_2], cell[UP_2], now, dt, surface, rise)
        if (before and above) or cell[DOWN] >= cell[MASS]:
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
    """Update landed masses and remove cells that have landed; returns cells and mass aloft."""
    landed, aloft = 0, 0.0
    for k in range(count):
        cells[k, DOWN] = cells[k, AHEAD]
        aloft += cells[k, MASS] - cells[k, DOWN]
        landed += cells[k, DOWN] >= cells[k, MASS]
    if landed <= KEPT * count:
        return count, aloft
    kept = 0
    for k in range(count):
        if cells[k, DOWN] < cells[k, MASS]:
            for row in range(CELL):
                cells[kept, row] = cells[k, row]
            kept += 1
    return kept, aloft
