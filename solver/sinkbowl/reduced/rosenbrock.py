"""One step of a stiffly stable Rosenbrock method, in plain numbers.

RODAS of Hairer & Wanner (Solving Ordinary Differential Equations II, 2nd ed., IV.7 and the program
RODAS there; the coefficients from memory, held by a test of the order of convergence): fourth
order, an embedded third one for the error, L-stable. For y' = f(y) with the Jacobian J, six stages

    (1 / (gamma h) - J) U_i = f(y + sum_j a_ij U_j) + sum_j c_ij U_j / h

give y + sum_j a_5j U_j + U_5 + U_6, U_6 the error. A narrow hole makes the reduced models stiff, a
wide one lets them swing, and this stands both. Written out here because a library's integrators
take longer to be imported than all that a bowl needs to be solved.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import mul

import numpy as np

from sinkbowl.common.sinking import FloatArray

GAMMA = 0.25

STAGES = (
    ((), ()),
    ((1.544,), (-5.6688,)),
    ((0.9466785280815826, 0.2557011698983284), (-2.430093356833875, -0.2063599157091915)),
    (
        (3.314825187068521, 2.896124015972201, 0.9986419139977817),
        (-0.1073529058151375, -9.594562251023355, -20.47028614809616),
    ),
    (
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895),
        (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.7089089320616),
    ),
    (
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.687886036105895, 1.0),
        (
            8.083246795921522,
            -7.981132988064893,
            -31.52159432874371,
            16.31930543123136,
            -6.058818238834054,
        ),
    ),
)
"""Rows a_ij and c_ij of the stages."""

NUDGE, LEAST = 1.5e-8, 0.1
"""Share of a component, and at least of that share of its size, by which it is moved to
differentiate the rates."""

State = list[float]
Rates = Callable[[State], Sequence[float]]


def jacobian(rates: Rates, y: State, slope: Sequence[float], sizes: Sequence[float]) -> FloatArray:
    """Derivatives of the rates (n, n) at a state by differences forwards.

    Parameters
    ----------
    slope : the rates at y
    sizes : (n,) of the state's components
    """
    columns = []
    for i, (value, size) in enumerate(zip(y, sizes, strict=True)):
        beside = y.copy()
        beside[i] = value + NUDGE * max(abs(value), LEAST * size)
        gap = beside[i] - value
        columns.append([(b - a) / gap for a, b in zip(slope, rates(beside), strict=True)])
    return np.array(columns).T


def step(
    rates: Rates, y: State, slope: Sequence[float], slopes: FloatArray, h: float
) -> tuple[State, State]:
    """State after a step of h, and its error.

    Parameters
    ----------
    slope, slopes : the rates at y and their Jacobian there
    """
    matrix = np.diag(np.full(len(y), 1.0 / (GAMMA * h))) - slopes
    inverse: list[list[float]] = np.linalg.inv(matrix).tolist()
    stages: list[State] = []
    at = y
    for a, c in STAGES:
        if stages:
            turned = list(zip(*stages, strict=True))
            at = [v + sum(map(mul, a, u)) for v, u in zip(y, turned, strict=True)]
            right = [f + sum(map(mul, c, u)) / h for f, u in zip(rates(at), turned, strict=True)]
        else:
            right = list(slope)
        stages.append([sum(map(mul, row, right)) for row in inverse])
    error = stages[-1]
    return [v + e for v, e in zip(at, error, strict=True)], error
