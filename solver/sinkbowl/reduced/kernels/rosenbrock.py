"""A step of the reduced models' integration, by a W-method.

ROS2 (Verwer, Spee, Blom & Hundsdorfer 1999, SIAM J. Sci. Comput. 20, 1456; from memory; a test
checks its order), with gamma = 1 - 1/sqrt(2) and J near the Jacobian:

    (1 - gamma h J) k_1 = f(y_n),   (1 - gamma h J) k_2 = f(y_n + h k_1) - 2 k_1,
    y_n+1 = y_n + h (3 k_1 + k_2) / 2.

It is L-stable: a narrow hole makes the equations stiff. It is of second order for any J, so the
inverse may be that of some steps before.
"""

import math
from typing import NamedTuple

from sinkbowl.common.sinking import FloatArray
from sinkbowl.compiled import part

from .falling import falling_rates
from .heave import AIR, ALOFT, CELL_RATE, RATE, STATE, WATER, WAY, WAY_NEXT, heave_rates

HEAVE, FALLING = range(2)

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)

NUDGE, LEAST = 1e-6, 0.1
"""Relative step of a component for differences, and minimum step as a share of its size."""


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
