"""Reflection of waves by a beach.

Waves are made by a heaving hemisphere. Between body and beach the surface is fitted, at the forced
frequency w and with k = w^2/g (deep water), by

    eta(r, t) = Re[(out H0^(1)(kr) + back H0^(2)(kr)) exp(-iwt)],

waves that run outwards and inwards; |back|/|out| is the reflection coefficient. A wall reflects all
of it; this is read before the body reflects it again. A beach may reflect 5 %: common practice of
wave tanks, no source.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import hankel1, hankel2

from sinkbowl.common import GRAVITY
from sinkbowl.flow.effects.beach import make_beach
from sinkbowl.flow.grid import Array, Grid, Spacing, lay_lines

from . import Check, VerificationCase, finest, on_grids
from .forced_heave import AMPLITUDE, RADIUS, afloat, forced_step
from .tanks import DENSITY

LENGTH = 2.0 * np.pi * RADIUS  # length of the waves [m]: Ka = 1, near the hemisphere's own heave

NEAR, FAR = 2.25, 3.25
"""Start and end of the fit, in wavelengths; the beach begins at its end, a wall half a wavelength
further out."""

DEPTH = 1.0  # depth of the water in wavelengths
PERIODS = 15  # periods of motion; the wave's front moves half a wavelength in each
STEPS = 100  # time steps per period
GRIDS = (12, 20)  # cells per wavelength
SOFT = 2.0  # periods in which the motion grows to its full amplitude
ALLOWED = 0.05  # allowed reflection of a beach, and allowed error of the wall's


@dataclass(frozen=True)
class Fit:
    """Amplitudes [m] of the waves at the unit of their Hankel functions; misfit: relative."""

    out: complex
    back: complex
    misfit: float

    @property
    def reflection(self) -> float:
        """Reflected over incident height."""
        return abs(self.back) / abs(self.out)


def send_waves(width: float, cells: int) -> Fit:
    """Waves towards a beach of a width in wavelengths (0: a wall), `cells` per wavelength."""
    outer = (FAR + max(width, 0.5)) * LENGTH
    grid = _grid(LENGTH / cells, outer)
    ops, state = afloat(grid, make_beach(grid, width * LENGTH, DENSITY) if width > 0.0 else None)
    omega = float(np.sqrt(2.0 * np.pi * GRAVITY / LENGTH))
    dt = 2.0 * np.pi / omega / STEPS
    seen = (grid.r_c > NEAR * LENGTH) & (grid.r_c < FAR * LENGTH)
    ring = (grid.r_c * grid.dr)[seen]
    heights = np.zeros(int(seen.sum()), dtype=complex)
    for step in range(PERIODS * STEPS):
        if step >= (PERIODS - 1) * STEPS:
            level = state.water[seen].sum(axis=1) / ring + state.height
            heights += level * np.exp(1j * omega * state.time) * 2.0 / STEPS
        middle = state.time + 0.5 * dt
        growth = min(1.0, middle * omega / (2.0 * np.pi * SOFT))
        forced_step(ops, state, dt, growth * AMPLITUDE * omega * float(np.sin(omega * middle)))
    return fit(grid.r_c[seen], heights, omega**2 / GRAVITY)


def _grid(cell: float, outer: float) -> Grid:
    """Eight cells per radius at the hemisphere, at most `cell` [m] from there to the wall."""
    body = Spacing(RADIUS / 8.0, 0.0, 1.2 * RADIUS, 0.1)
    high = Spacing(RADIUS / 8.0, -1.1 * RADIUS, 1.2 * RADIUS, 0.15)
    r_f = lay_lines([0.0, RADIUS, outer], [body, Spacing(cell, 0.0, outer)])
    return Grid(r_f, lay_lines([-DEPTH * LENGTH, 0.0, 1.2 * RADIUS], [high]))


def fit(r: Array, heights: np.ndarray, k: float) -> Fit:
    """Least squares of both waves to complex heights [m] at radii r [m]."""
    waves = np.column_stack((hankel1(0, k * r), hankel2(0, k * r)))
    (out, back), *_ = np.linalg.lstsq(waves, heights, rcond=None)
    left = np.linalg.norm(heights - waves @ (out, back)) / np.linalg.norm(heights)
    return Fit(complex(out), complex(back), float(left))


def wall() -> VerificationCase:
    """The tub's wall alone."""
    return finest(
        "wall of the tub, reflected share of a wave",
        "all of it: no flow through a wall, from first principles",
        1.0,
        on_grids(lambda n: send_waves(0.0, n).reflection, GRIDS, "wave"),
        ALLOWED,
    )


def beach() -> VerificationCase:
    """A beach as wide as the waves are long."""
    return finest(
        "beach, absorbed share of a wave",
        "all of it; 5 % may be reflected, common practice of wave tanks, no source",
        1.0,
        on_grids(lambda n: 1.0 - send_waves(1.0, n).reflection, GRIDS, "wave"),
        ALLOWED,
        kind="at least",
        note="shares of its height; the wave is as long as the beach is wide",
    )


CHECKS: tuple[Check, ...] = (wall, beach)
