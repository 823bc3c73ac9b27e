"""Openings and jets: inertance of the hole and contraction of the jet."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from math import atan, pi, sqrt

from scipy.optimize import brentq

from sinkbowl.common.constants import GRAVITY

from .expansion import sudden_expansion
from .orifice_flow import (
    HOLE,
    Pipe,
    channel,
    discharge_coefficient,
    draining_time,
    inertance_length,
    jet_section,
    round_pipe,
)
from .verification_case import Check, VerificationCase, finest

FREE_JET = "free-streamline boundary elements, 0.5913 +- 0.0003; agrees with Bloch 1968/69"

PIPE_JET = {0.2: 0.6008, 0.4: 0.6216, 0.6: 0.6566, 0.8: 0.7203}
"""Contraction against area ratio, without friction, +- 0.0005."""

WEISBACH = {0.2: 0.632, 0.4: 0.659, 0.6: 0.712, 0.8: 0.813}
"""The same, measured."""

INERTANCE_NOTE = (
    "First order in the cell: the edge is sharp. On coarse grids the hole seems longer."
)


def slot_jet(opening: float) -> float:
    """Exact contraction C of a slot in a plane channel: 1/C = 1 + (2/pi) (1/x - x) atan x, x = mC.

    From the free-streamline solution (von Mises 1917; this form from memory, it gives his table).
    """

    def short_of(c: float) -> float:
        x = opening * c
        return 1.0 / c - 1.0 - 2.0 / pi * (1.0 / x - x) * atan(x)

    return float(brentq(short_of, 0.5, 1.0))


def fok(ratio: float) -> float:
    """Fok's factor on the inertance length pi a/2 for a hole of `ratio` times the pipe's radius."""
    terms = (1.0, -1.40925, 0.0, 0.33818, 0.0, 0.06793, -0.02287, 0.03015, -0.01641)
    return sum(factor * ratio**power for power, factor in enumerate(terms))


def _orifice(
    name: str,
    source: str,
    reference: float,
    allowed: float,
    pipe: Callable[[int], Pipe],
    read: Callable[[Pipe], float],
    cells: tuple[int, ...],
    note: str,
    unit: str = "",
) -> VerificationCase:
    """A check on grids of `cells` a radius; the finest counts."""
    grids = tuple((f"{2 * n} cells a hole", read(pipe(n))) for n in cells)
    return finest(name, source, reference, grids, allowed, unit, note=note)


inertance_in_a_plane = partial(
    _orifice,
    "inertance of a thin hole in a plane",
    "pi a/2, conductivity 2a (Rayleigh; from memory); the pipe is 1000 times as wide",
    0.5 * pi,
    0.01,
    lambda n: round_pipe(1e-6, n),
    inertance_length,
    (8, 16, 32, 64),
    INERTANCE_NOTE,
    "radii",
)
"""End corrections of both sides, pi a/2 in total."""

inertance_in_a_pipe = partial(
    _orifice,
    "inertance of a thin hole, half the pipe's radius",
    "Fok 1941, series from memory",
    0.5 * pi * fok(0.5),
    0.01,
    lambda n: round_pipe(0.25, n),
    inertance_length,
    (8, 16, 32, 64, 128),
    INERTANCE_NOTE,
    "radii",
)
"""A hole half as wide as its pipe has a third of the inertance of a free one."""

jet_of_a_hole = partial(
    _orifice,
    "jet's section, thin hole",
    FREE_JET,
    0.5913,
    0.01,
    lambda n: round_pipe(0.01, n),
    jet_section,
    (8, 16, 32),
    "The pipe is ten times as wide as the hole.",
)

discharge_of_a_hole = partial(
    _orifice,
    "discharge coefficient, thin hole",
    FREE_JET,
    0.5913,
    0.01,
    lambda n: round_pipe(0.01, n),
    discharge_coefficient,
    (8, 16, 32),
    "Without friction it equals the contraction. Head is lost at the edge, less on fine grids.",
)

jet_of_a_square_lip = partial(
    _orifice,
    "jet's section, square lip of 1/8 diameter",
    FREE_JET,
    0.5913,
    0.02,
    lambda n: round_pipe(0.04, n, lip=n // 4),
    jet_section,
    (8, 16, 32),
    "The jet clings to the lip while the gap between them is thinner than a cell or two.",
)
"""The real jet is clear of it from the edge on."""

inward_tube = partial(
    _orifice,
    "discharge coefficient, inward tube",
    "momentum and energy, exact: (1 - sqrt(1 - m))/m, m = 1/4 (Borda; 1/2 for m = 0)",
    4.0 * (1.0 - sqrt(0.75)),
    0.02,
    lambda n: round_pipe(0.25, n, tube=2.0 * HOLE),
    discharge_coefficient,
    (8, 16, 40),
    "From the pressure; the jet's section in the tube is not steady. The grid's lip is thinner "
    "than a cell but not sharp.",
)
"""Borda's tube in a pipe of four times its area."""


def slot(opening: float, allowed: float = 0.01) -> VerificationCase:
    """Section of the jet from a slot in a plane channel."""
    return _orifice(
        f"jet's section, slot, width ratio {opening:g}",
        "free streamlines, exact (von Mises 1917; from memory)",
        slot_jet(opening),
        allowed,
        lambda n: channel(opening, n),
        jet_section,
        (8, 16),
        "A ring slot at 1000 times its half width stands for the plane slot.",
    )


def area_ratio(opening: float) -> tuple[VerificationCase, VerificationCase]:
    """Section of the jet from a thin hole in a pipe, against theory and the measured table."""
    theory = _orifice(
        f"jet's section, area ratio {opening:g}",
        "ring vortices along the jet, computed by another method, not published",
        PIPE_JET[opening],
        0.02,
        lambda n: round_pipe(opening, n),
        jet_section,
        (8, 16),
        "The method is in tests/vortex_sheet.py; it gives 0.5914 for the small hole.",
    )
    measured = replace(
        theory,
        name=f"{theory.name}, as measured",
        source="Weisbach (from memory)",
        reference=WEISBACH[opening],
        note="A jet without friction contracts more than this table: by "
        f"{100.0 * (WEISBACH[opening] / PIPE_JET[opening] - 1.0):.0f} % in theory.",
    )
    return theory, measured


def draining_tank() -> VerificationCase:
    """Quasi-steady fall of the level in a tank with ten times the area of its hole."""
    pipe, high, low = round_pipe(0.1, 8), 23.0 * HOLE, 19.0 * HOLE
    steady = discharge_coefficient(pipe)
    torricelli = sqrt(2.0 / GRAVITY) * (sqrt(high) - sqrt(low)) / (steady * pipe.opening)
    return VerificationCase(
        "draining tank, level 23 to 19 radii",
        "t = (A/(C_d a)) sqrt(2/g) (sqrt h1 - sqrt h2) with the solver's own steady C_d",
        torricelli,
        draining_time(pipe, high, low),
        0.01,
        unit="s",
        note="16 cells a hole. The falling jet's own weight adds a little to the head.",
    )


CHECKS: tuple[Check, ...] = (
    inertance_in_a_plane,
    inertance_in_a_pipe,
    jet_of_a_hole,
    discharge_of_a_hole,
    jet_of_a_square_lip,
    partial(slot, 0.02, 0.005),
    partial(slot, 0.3),
    partial(slot, 0.5),
    partial(slot, 0.7),
    inward_tube,
    draining_tank,
    sudden_expansion,
    *(partial(area_ratio, opening) for opening in WEISBACH),
)
"""The verification cases; each call takes seconds."""
