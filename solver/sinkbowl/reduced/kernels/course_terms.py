"""Terms of the heave equations along a given course, with the model's water in flight."""

import math

import numpy as np

from sinkbowl.compiled import kernel

from .heave import AIR, BOIL, LEVEL, SHED, STATE, TERMS, TO_RIM, heave_rates
from .integration import accept, advance_flight


@kernel
def terms_on_course(bowl, t, course, dt, cells, room, out):
    """Fill out (n, TERMS + AIR), terms and `air`, at times t (n,) of a course (n, STATE).

    The boil's height is the model's too; only its first value is the course's.

    dt : longest step of the water in flight [s]
    cells, room : see `integrate`
    """
    air, told, y, new = room.air, room.told, room.at, room.new
    count, pace = np.int64(0), 0.0
    for i in range(STATE):
        y[i] = course[0, i]
    for k in range(t.size):
        parts = 0 if k == 0 else math.ceil((t[k] - t[k - 1]) / dt)
        for part in range(max(parts, 1)):
            if parts == 0:
                heave_rates(bowl, y, air, TO_RIM, room.shares, told, room.rate)
                break
            h = (t[k] - t[k - 1]) / parts
            now = t[k - 1] + part * h
            share = (part + 1.0) / parts
            for i in range(BOIL):
                new[i] = course[k - 1, i] + share * (course[k, i] - course[k - 1, i])
            pace, _ = advance_flight(bowl, y, now, h, cells, count, room, pace)
            # Implicit in the root: the outflow of a boil goes like its height to the power 3/2.
            fed, shed = room.rate[BOIL] + told[SHED], told[SHED]
            loss = shed / y[BOIL] if y[BOIL] > 0.0 else 0.0
            new[BOIL] = max((y[BOIL] + h * fed) / (1.0 + h * loss), 0.0)
            count = accept(bowl, y, now, h, TO_RIM, cells, count, room)
            for i in range(STATE):
                y[i] = new[i]
        for i in range(TERMS):
            out[k, i] = told[i]
        for i in range(AIR):
            out[k, TERMS + i] = air[i]
    return out[t.size - 1, LEVEL]
