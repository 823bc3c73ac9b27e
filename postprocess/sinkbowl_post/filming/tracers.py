"""Tracers that drift with the water, which show the jet and its vortex ring.

Paths follow dx/dt = w(x, t), w = u - V e_z the velocity in the bowl's frame, bilinear between cell
centres and linear between two frames, by Heun's two-stage rule with steps of less than a cell
(Hairer, Norsett & Wanner, Solving ODEs I, sect. II.1). Tracers start on a perturbed lattice over
the section, the same in every film; one that enters air or wall disappears.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.files.result import Result
from sinkbowl_post.filming.picture import bracket
from sinkbowl_post.filming.view import cell_centres

SEED = 20
PER_AREA = 900  # tracers per area of a square as wide as the bowl
JITTER = 0.8  # initial displacement from the lattice point, in units of the spacing

CELL_SHARE = 0.5
MOST_STEPS = 40  # maximum number of steps between two frames; half a cell each is the aim

Array = NDArray[np.float64]


def drift(result: Result, shown: Sequence[int], reach: float) -> list[Array]:
    """Positions (n, 2) of the tracers, r and z in the bowl's frame [m], at each frame.

    reach : tracers start within this radius, and as far below the bowl [m]
    """
    flow = _Flow(result)
    places = _seed(result, reach)
    positions = []
    previous = flow.frame(shown[0])
    for k in shown:
        now = flow.frame(k)
        places = flow.carry(places, previous, now)
        positions.append(places)
        previous = now
    return positions


def _seed(result: Result, reach: float) -> Array:
    outline = result.grid["outline"]
    radius, rim = float(outline[:, 0].max()), float(outline[:, 1].max())
    low, high = -reach, rim
    gap = 2 * radius / np.sqrt(PER_AREA)
    r, z = np.meshgrid(np.arange(gap / 2, reach, gap), np.arange(low, high, gap), indexing="ij")
    places = np.column_stack((r.ravel(), z.ravel()))
    shift = np.random.default_rng(SEED).uniform(-0.5, 0.5, places.shape)
    return np.asarray(places + JITTER * gap * shift)


@dataclass(frozen=True)
class _Moment:
    """Time, velocity relative to the bowl (nr, nz, 2), outwards and upwards, volume fraction."""

    t: float
    velocity: Array
    fraction: Array


class _Flow:
    """Velocity fields of a result in the bowl's frame, and path lines."""

    def __init__(self, result: Result) -> None:
        r_f, z_f = result.grid["r_f"], result.grid["z_f"]
        self._frames = result.frames
        self._r, self._z = cell_centres(result)
        self._r_f, self._z_f = r_f, z_f
        self._cell = float(min(np.diff(r_f).min(), np.diff(z_f).min()))

    def frame(self, k: int) -> _Moment:
        """The stored frame k."""
        fields = self._frames.fields(k, ("u_r", "u_z", "volume_fraction"))
        wet = fields["volume_fraction"] > 0.5
        upward = np.where(wet, fields["u_z"] + self._frames.speed[k], 0.0)
        velocity = np.stack((fields["u_r"], upward), axis=2, dtype=float)
        fraction = fields["volume_fraction"].astype(float)
        return _Moment(float(self._frames.t[k]), velocity, fraction)

    def carry(self, places: Array, before: _Moment, after: _Moment) -> Array:
        """Positions at the later of two frames, without tracers that have left the water."""
        span = after.t - before.t
        fastest = max(float(np.linalg.norm(before.velocity, axis=2).max()), 1e-12)
        steps = int(np.clip(np.ceil(span * fastest / (CELL_SHARE * self._cell)), 1, MOST_STEPS))
        for step in range(steps if span > 0.0 else 0):
            first = self._velocity(places, before, after, step / steps)
            ahead = self._velocity(places + first * span / steps, before, after, (step + 1) / steps)
            places = places + 0.5 * (first + ahead) * span / steps
            places[:, 0] = np.abs(places[:, 0])
        return places[self._wet(places, after.fraction)]

    def _velocity(self, places: Array, before: _Moment, after: _Moment, share: float) -> Array:
        now = (1 - share) * before.velocity + share * after.velocity
        i, a = bracket(self._r, places[:, 0])
        j, b = bracket(self._z, places[:, 1])
        cells, at, outer = now.reshape(-1, 2), i * len(self._z) + j, len(self._z)
        a, b = a[:, None], b[:, None]
        lower = (1 - a) * cells[at] + a * cells[at + outer]
        upper = (1 - a) * cells[at + 1] + a * cells[at + outer + 1]
        return np.asarray((1 - b) * lower + b * upper)

    def _wet(self, places: Array, fraction: Array) -> NDArray[np.bool_]:
        i = np.clip(np.searchsorted(self._r_f, places[:, 0]) - 1, 0, len(self._r) - 1)
        j = np.clip(np.searchsorted(self._z_f, places[:, 1]) - 1, 0, len(self._z) - 1)
        inside = (places[:, 1] > self._z_f[0]) & (places[:, 0] < self._r_f[-1])
        return np.asarray(inside & (fraction[i, j] > 0.5))
