"""The heave equations with a fountain in flight; HEAVE.md derives and numbers them.

State y: draft D, speed V, water in the bowl W (including that aloft), flow Q, height eta of the
boil over the hole. `air` has the water in flight.
"""

import math

from sinkbowl.common import GRAVITY
from sinkbowl.compiled import kernel, part

from .bowl import AREA, BOWL, CROSS, DRAG, HOLE, RADIUS, WAVES
from .hole import jet_of_all
from .levels import between, interval, level_of, volume_and_area

DRAFT, SPEED, WATER, FLOW, BOIL, STATE = range(6)
"""Components of the state, and their number."""

ALOFT, RATE, FORCE_DOWN, WAY, CELL_RATE, WAY_NEXT, AIR = range(7)
"""Entries of `air`: mass aloft [kg]; rates of landing mass [kg/s] and momentum [N]; distance run by
the first landed water [m]; rate at which mass leaves the pool [kg/s]; distance run in the step [m].
Their number."""

(
    FORCE, PRESSURE, M_BOWL, M_HOLE, ON_BOWL, ON_HOLE, LEVEL, POOL, SURFACE, RISE, LEAVES, JET,
    BACK, DRAG_FORCE, WAVE_FORCE, SHED, M_OUTER, M_CROSS, RIM, SHARE, BY_SPEED, BY_FLOW, TERMS,
) = range(23)  # fmt: skip
"""Results of `loads`, and their number: force on the bowl [N], pressure along the hole [Pa], the
matrix of V' and Q'; levels of all water and of the pool [m], the pool's surface [m^2] and its rise
[m/s]; speeds with which the jet leaves the pool and the hole [m/s]; back pressure of the jet [Pa];
drag and waves [N]; outflow of the boil [m/s]; M_11 and M_12; flow over the rim [m^3/s]; share of
the back pressure by all water lying flat; the back pressure's parts that go with V' and Q'."""

CREST = 2.0 * (2.0 / 3.0) ** 1.5
"""Flow over a round crest of radius b, over pi b^2 sqrt(g) eta^(3/2) / b: critical depth."""

WEIR = 0.611
"""Discharge coefficient of a sharp crest under a low head (Rehbock's limit; ISO 1438)."""

SHALLOW = 1e-6
"""Level above the base, over the rim's height, below which the mean section is the base's."""

NUDGE = 5e-3
"""Step of the draft, over the rim's radius, with which the outer inertia is differentiated: two
chords of a round outline, whose corners would otherwise show."""

LEAST_FREE = 1e-3
"""Minimum share of the head of a jet over any pool."""

ROUNDS = 3
"""Corrections of back pressure and speed of the leaving jet, each smaller by sigma."""

TO_RIM, OVER_EDGE, OVER_RIM = range(3)
"""Phases: rim above the surface; under it, held by the meniscus; water coming over it."""


@part
def place_of(draft, bowl):
    """Row of the table of the outer water at a draft."""
    return draft / bowl.rim * (bowl.sea.shape[0] - 1)


@part
def residuals_at(bowl, height):
    """Force [N] and pressure [Pa] that a modified model adds at a level [m]."""
    table = bowl.residuals
    k = interval(table[:, 0], height)
    share = min(max((height - table[k, 0]) / (table[k + 1, 0] - table[k, 0]), 0.0), 1.0)
    force = table[k, 1] + share * (table[k + 1, 1] - table[k, 1])
    return force, table[k, 2] + share * (table[k + 1, 2] - table[k, 2])


@kernel
def weir(depth, crest):
    """Flow over a sharp crest of a length [m] under a head [m], per time [m^3/s]."""
    return 2.0 / 3.0 * WEIR * math.sqrt(2.0 * GRAVITY) * crest * max(depth, 0.0) ** 1.5


@part
def loads(bowl, y, air, phase, shares, told):
    """Forces and inertia of the bowl and the fluid in the hole: fills `told` (TERMS,)."""
    g, rho = GRAVITY, bowl.density
    draft, speed, flow = y[DRAFT], y[SPEED], y[FLOW]
    water, eta = min(max(y[WATER], 0.0), bowl.capacity), max(y[BOIL], 0.0)
    inwards = flow > 0.0
    place = place_of(draft, bowl)
    radius, outer_area = between(bowl.sea, RADIUS, place), between(bowl.sea, AREA, place)
    m_bowl, m_cross = between(bowl.sea, BOWL, place), between(bowl.sea, CROSS, place)
    m_hole = between(bowl.sea, HOLE, place)
    displaced, _ = volume_and_area(bowl.outer, draft)
    if phase == OVER_RIM:
        displaced = min(displaced, bowl.hull)
    jet, loss = jet_of_all(bowl.laws, shares, flow, speed, radius)
    area, b = bowl.hole_area, bowl.hole_radius

    # The pool: all water minus that aloft, which comes only from water over the base.
    level, level_area = level_of(bowl.inner, water, told[LEVEL])
    above = max(rho * (water - bowl.plug), 0.0)
    aloft = min(air[ALOFT], above)
    pool, surface = level, level_area
    if aloft > 0.0:
        pool, surface = level_of(bowl.inner, water - aloft / rho, told[POOL])
    over, depth = max(level - bowl.inner_edge, 0.0), max(pool - bowl.inner_edge, 0.0)
    section = bowl.base_area
    if over > SHALLOW * bowl.rim:
        section = above / rho / over
    resting, sigma = above - aloft, area / section
    rise = ((0.0 if inwards else flow) + air[RATE] / rho) / surface

    # Back pressure of the jet: a boil, or all water lying flat; the mean on the base.
    head = max(draft - bowl.inner_edge + 0.5 * speed * abs(speed) / g, 1e-6 * bowl.rim)
    free = max(head - depth, LEAST_FREE * head)
    boil = min(eta, free) ** 3 / free**2
    run = max(math.sqrt(surface / math.pi) - b, 0.0)
    wet = min(max((air[WAY] - run) / b, 0.0), 1.0)
    standing = wet * above * g / section + (1.0 - wet) * rho * g * (boil + depth)
    leaves, share = jet, sigma / section
    for correction in range(ROUNDS + 1):
        mean = resting * g + air[FORCE_DOWN]
        if inwards:
            mean += rho * flow * (rise + leaves - jet)
        back = (1.0 - sigma) * standing + share * mean
        if not inwards or correction == ROUNDS:
            break
        leaves = math.sqrt(jet**2 + 2.0 / rho * max(back - rho * g * depth, 0.0))
    flat = wet * above / rho / section + (1.0 - wet) * depth
    deep = wet * over + (1.0 - wet) * depth
    by_speed = (1.0 - sigma) * flat + sigma * resting / rho / section
    by_flow = rho * ((1.0 - sigma) * deep + sigma * depth) / section

    # The outer water: waves, and the impulse of a widening hull at entry.
    waves = between(bowl.sea, WAVES, place) * (speed - flow / outer_area)
    entry = entry_flow = 0.0
    if speed > 0.0 and draft < bowl.rim:
        step = NUDGE * bowl.crest / (2.0 * math.pi)
        below = place_of(draft + step, bowl)
        d_bowl = speed * (between(bowl.sea, BOWL, below) - m_bowl) / step
        d_cross = speed * (between(bowl.sea, CROSS, below) - m_cross) / step
        d_hole = speed * (between(bowl.sea, HOLE, below) - m_hole) / step
        entry = d_bowl * speed - d_cross * flow
        entry_flow = d_hole * flow - d_cross * speed
    drag = between(bowl.sea, DRAG, place) * speed * abs(speed)
    rim_flow = weir(draft - bowl.rim, bowl.crest) if phase == OVER_RIM else 0.0

    force, pressure = residuals_at(bowl, level)
    wetted = min(level - bowl.outer_edge, bowl.hole_length)
    end = between(
        bowl.ends,
        0,
        over / (bowl.rim - bowl.inner_edge) * (bowl.ends.shape[0] - 1),
    )
    # Under a shallow layer the end correction cannot be longer than the layer is deep.
    end = end * math.tanh(over / end) if end > 0.0 else 0.0
    carried = leaves - speed if inwards else -jet
    told[FORCE] = (
        g * (bowl.mass + rho * (water - displaced) - aloft)
        - drag
        + rho * (flow * (carried + rise) - rim_flow * speed)
        + air[FORCE_DOWN]
        - waves
        - entry
        + force
    )
    told[PRESSURE] = (
        rho * (g * (draft - min(level, bowl.inner_edge)) + 0.5 * speed * abs(speed) - loss)
        - back
        + waves / outer_area
        - entry_flow
        + pressure
    )
    told[M_BOWL] = bowl.mass + rho * water - aloft + m_bowl
    told[M_HOLE] = m_hole + rho * (wetted + end) / area + by_flow
    told[ON_BOWL] = m_cross + rho * (pool - bowl.outer_edge)
    told[ON_HOLE] = m_cross + rho * (wetted + by_speed)
    told[LEVEL], told[POOL], told[SURFACE], told[RISE] = level, pool, surface, rise
    told[LEAVES], told[JET], told[BACK] = leaves, jet, back
    told[DRAG_FORCE], told[WAVE_FORCE] = drag, waves
    eta = min(eta, head)
    told[SHED] = CREST / bowl.edge_radius * eta * math.sqrt(g * eta)
    told[M_OUTER], told[M_CROSS], told[RIM], told[SHARE] = m_bowl, m_cross, rim_flow, wet
    told[BY_SPEED], told[BY_FLOW] = rho * by_speed, by_flow


@part
def heave_rates(bowl, y, air, phase, shares, told, rates):
    """Rates of the state, (STATE,); `told` has the results of `loads`."""
    loads(bowl, y, air, phase, shares, told)
    flow = y[FLOW]
    determinant = told[M_BOWL] * told[M_HOLE] - told[ON_BOWL] * told[ON_HOLE]
    came = flow + told[RIM]
    fed = flow / bowl.hole_area if told[LEVEL] > bowl.inner_edge else 0.0
    rates[DRAFT] = y[SPEED]
    rates[SPEED] = (told[M_HOLE] * told[FORCE] + told[ON_BOWL] * told[PRESSURE]) / determinant
    rates[WATER] = 0.0 if y[WATER] >= bowl.capacity and came > 0.0 else came
    rates[FLOW] = (told[ON_HOLE] * told[FORCE] + told[M_BOWL] * told[PRESSURE]) / determinant
    rates[BOIL] = fed - told[SHED]
