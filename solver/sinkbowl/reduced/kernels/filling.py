"""The quasi-static model: time as an integral over the water inside.

    dt = dW / Q(H),   H = D - z,   V_out(D) = m / rho + W,   V_in(z) = W

If Q^2 is linear in W, as in a cylinder, 2 dW / (Q_1 + Q_2) is exact; otherwise, with Richardson
extrapolation from halves, it is of fourth order.
"""

from sinkbowl.common import GRAVITY
from sinkbowl.compiled import kernel, part

from .heave import BOIL, DRAFT, FLOW, SPEED, WATER
from .hole import flow_of_all
from .integration import AT_REST, ROW_ALOFT, ROW_LEVEL, TIME
from .levels import level_of

HALVINGS = 60


@part
def balance(bowl, water, row):
    """Enter the equilibrium of the bowl with an inner volume [m^3]."""
    volume = bowl.mass / bowl.density + water
    draft, plane = level_of(bowl.outer, volume, row[1 + DRAFT])
    level, _ = level_of(bowl.inner, water, row[ROW_LEVEL])
    flow = flow_of_all(bowl.laws, draft - level)
    row[1 + DRAFT], row[1 + SPEED], row[1 + WATER], row[1 + FLOW] = draft, flow / plane, water, flow
    row[1 + BOIL], row[ROW_LEVEL], row[ROW_ALOFT] = 0.0, level, 0.0


@part
def resting(bowl, row, head):
    """Whether head and velocity heads are below their share of the starting head [m]."""
    left = abs(row[1 + DRAFT] - row[ROW_LEVEL])
    left += (row[1 + SPEED] ** 2 + (row[1 + FLOW] / bowl.hole_area) ** 2) / (2.0 * GRAVITY)
    return left <= AT_REST * head


@kernel
def fill(bowl, floats, head, water, rows, middle):
    """Fill rows (n, ROW) at amounts of water (n,) [m^3]; returns the number until rest.

    floats : whether it comes to rest
    head : at the start [m]
    middle : (ROW,) scratch
    """
    rows[0, TIME] = 0.0
    rows[0, 1 + DRAFT], rows[0, ROW_LEVEL] = bowl.rim, bowl.inner_edge
    balance(bowl, water[0], rows[0])
    for k in range(1, water.size):
        before, row = rows[k - 1], rows[k]
        for i in range(row.size):
            row[i] = before[i]
        balance(bowl, water[k], row)
        ended = floats and resting(bowl, row, head)
        if ended:
            low, high = water[k - 1], water[k]
            for _ in range(HALVINGS):
                balance(bowl, 0.5 * (low + high), row)
                if resting(bowl, row, head):
                    high = row[1 + WATER]
                else:
                    low = row[1 + WATER]
            balance(bowl, high, row)
        for i in range(row.size):
            middle[i] = row[i]
        balance(bowl, 0.5 * (before[1 + WATER] + row[1 + WATER]), middle)
        amount = row[1 + WATER] - before[1 + WATER]
        whole = 2.0 * amount / (before[1 + FLOW] + row[1 + FLOW])
        halves = amount / (before[1 + FLOW] + middle[1 + FLOW])
        halves += amount / (middle[1 + FLOW] + row[1 + FLOW])
        row[TIME] = before[TIME] + (4.0 * halves - whole) / 3.0
        if ended:
            return k + 1
    return water.size
