"""Discharge of one or several holes; laws and sources are in discharge.py.

A law is a row of numbers, `LAW` names them. Head H and flow Q are related by

    g H = v^2 / (2 C^2) + R Q,   v = Q / a,

and the jet is v + (1 / C_c - 1) max(v - V, 0). Unequal holes share a flow so that each needs the
same head (discharge.py).
"""

import math

from sinkbowl.common import GRAVITY
from sinkbowl.compiled import kernel

LAW = (
    "diameter",
    "area",
    "constant",
    "filling",
    "full coefficient",
    "resistance",
    "viscosity",
    "count",
    "beside",
)
"""Of equal holes: diameter of each [m], area of all [m^2], coefficient given or nan, 0 for a jet
that separates to 1 for one that fills the hole, coefficient of the full hole, R [1/(m s)],
kinematic viscosity [m^2/s], number, area of other holes in the same base [m^2]."""

DIAMETER, AREA, CONSTANT, FILLING, FULL, RESISTANCE, VISCOSITY, COUNT, BESIDE = range(len(LAW))

SHARP, SHARP_RISE, SHARPEST = 0.592, 4.5, 0.70
"""High-Reynolds limit, rise with 1/sqrt(Re) and cap of a sharp thin hole's coefficient."""

BORDA = 0.5
"""Contraction at the end of a thin tube."""

ROUNDS = 6
"""Corrections of the shares, which halve the error of slow flow and square that of fast flow: heads
then agree within 1e-4."""

LEAST_FLOW = 1e-30
"""Minimum flow for which the energies can be divided by [m^3/s]."""


@kernel
def coefficient_at(law, reynolds):
    """C at a Reynolds number d sqrt(2 g H) / nu > 0."""
    if not math.isnan(law[CONSTANT]):
        return law[CONSTANT]
    sharp = min(SHARP + SHARP_RISE / math.sqrt(reynolds), SHARPEST)
    return sharp + law[FILLING] * (law[FULL] - sharp)


@kernel
def coefficient_of_flow(law, flow):
    """C for a flow [m^3/s] instead of a head."""
    if not math.isnan(law[CONSTANT]):
        return law[CONSTANT]
    reynolds = max(abs(flow), 1e-30) / law[AREA] * law[DIAMETER] / law[VISCOSITY]
    # sqrt(C) solves C = SHARP + SHARP_RISE sqrt(C / Re).
    rise = SHARP_RISE / math.sqrt(reynolds)
    sharp = min(0.25 * (rise + math.sqrt(rise**2 + 4.0 * SHARP)) ** 2, SHARPEST)
    return sharp + law[FILLING] * (law[FULL] - sharp)


@kernel
def flow_under(law, head):
    """Flow under a steady head [m^3/s], of the head's sign."""
    speed = math.sqrt(2.0 * GRAVITY * abs(head))
    if speed == 0.0:
        return 0.0
    c = coefficient_at(law, speed * law[DIAMETER] / law[VISCOSITY])
    # Root of q^2 / (2 c^2 a^2) + R q = g head, written without cancellation.
    linear = c * law[AREA] * law[RESISTANCE] / speed
    flow = c * law[AREA] * speed / (linear + math.sqrt(1.0 + linear**2))
    return math.copysign(flow, head)


@kernel
def flows_under(law, heads, flows):
    """Enter the flows (n,) [m^3/s] under steady heads (n,) [m]."""
    for k in range(heads.size):
        flows[k] = flow_under(law, heads[k])


@kernel
def jet_of(law, flow, speed, outer_radius):
    """Velocity of the jet relative to the bowl [m/s], and head lost up to it times g [m^2/s^2]."""
    mean = flow / law[AREA]
    c = coefficient_of_flow(law, flow)
    clear = max(c, BORDA)
    if flow > 0.0:
        covered = law[COUNT] * (0.5 * law[DIAMETER] / outer_radius) ** 2
        covered += law[BESIDE] / (math.pi * outer_radius**2)
        width = math.sqrt(max(1.0 - covered, 0.0))
        bounded = BORDA + (clear - BORDA) * width
        contraction = bounded + law[FILLING] * (1.0 - bounded)
        jet = mean + (1.0 / contraction - 1.0) * max(mean - speed, 0.0)
    else:
        jet = mean / (clear + law[FILLING] * (1.0 - clear))
    # The part of C not explained by contraction is loss.
    loss = (clear + law[FILLING] * (1.0 - clear)) / c
    return jet, 0.5 * jet * abs(jet) * loss**2 + law[RESISTANCE] * flow


@kernel
def jet_of_all(laws, shares, flow, speed, outer_radius):
    """The same for several laws (n, 9): mean jet and energy, weighted by flow.

    shares : (n,) scratch for their shares of the flow
    """
    count = laws.shape[0]
    if count == 1:
        return jet_of(laws[0], flow, speed, outer_radius)
    area = 0.0
    for k in range(count):
        area += laws[k, AREA]
    for k in range(count):
        shares[k] = laws[k, AREA] / area
    for _ in range(ROUNDS if abs(flow) > LEAST_FLOW else 0):
        total = 0.0
        for k in range(count):
            _, energy = jet_of(laws[k], shares[k] * flow, speed, outer_radius)
            shares[k] *= math.sqrt(1.0 / abs(energy))
            total += shares[k]
        for k in range(count):
            shares[k] /= total
    jet = energy = 0.0
    for k in range(count):
        one, own = jet_of(laws[k], shares[k] * flow, speed, outer_radius)
        jet += shares[k] * one
        energy += shares[k] * own
    return jet, energy


@kernel
def flow_of_all(laws, head):
    """Flow of several laws (n, 9) under a steady head [m^3/s]."""
    flow = 0.0
    for k in range(laws.shape[0]):
        flow += flow_under(laws[k], head)
    return flow
