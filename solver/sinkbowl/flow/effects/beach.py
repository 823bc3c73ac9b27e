"""A beach: a damping layer along the tub's wall that absorbs waves.

Over the outermost `width` b of the tub the water's velocity decays towards rest, du/dt = -s u, at a
rate that grows from nothing (a damping layer: Israeli & Orszag 1981, J. Comput. Phys. 41, 115, from
memory),

    s(r) = s_0 ((r - R + b)/b)^2.

Half of a wave's energy is kinetic, so its height decays at s/2. It crosses the beach twice at its
group speed c_g, which leaves exp(-s_0 b/(3 c_g)) of it. s_0 = 12 c_g/b leaves e^-4 = 2 % of a wave
as long as the beach is wide; c_g = sqrt(g b/(2 pi))/2, deep water. Longer waves cross too fast;
shorter ones are damped before the layer becomes strong.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import Array, Grid
from sinkbowl.flow.kernels import Mesh, sums
from sinkbowl.flow.state import FlowState

from . import Exchange, Force

STRENGTH = 12.0  # maximum rate in units of group speed over width


@dataclass(frozen=True)
class Beach(Force):
    """Place and rates of the damping.

    density: of the water [kg/m^3]; first: the innermost column of cells in the beach; rate_r
    (nr+1-first, 1), rate_z (nr-first, 1): rate of decay [1/s] of u_r on faces and of u_z in
    columns, from there on outwards.
    """

    density: float
    first: int
    rate_r: Array
    rate_z: Array

    def act(self, state: FlowState, mesh: Mesh, stride: float) -> Exchange:
        """Damp the velocity in the beach, implicitly; impulse and energy go to the tub."""
        water = state.water[self.first :]
        u_r, u_z = state.u_r[self.first :], state.u_z[self.first :]
        before = sums.upward_momentum(water, u_z), sums.kinetic_energy(water, u_r, u_z)
        u_r /= 1.0 + stride * self.rate_r
        u_z /= 1.0 + stride * self.rate_z
        after = sums.upward_momentum(water, u_z), sums.kinetic_energy(water, u_r, u_z)
        unit = 2.0 * np.pi * self.density
        return Exchange(
            impulse=float(unit * (after[0] - before[0])),
            energy=float(unit * (before[1] - after[1])),
        )


def make_beach(grid: Grid, width: float, density: float) -> Beach:
    """A beach of a width [m] along the tub's wall, in water of a density [kg/m^3]."""
    edge = grid.r_f[-1] - width
    group_speed = float(0.5 * np.sqrt(GRAVITY * width / (2.0 * np.pi)))
    greatest = STRENGTH * group_speed / width
    first = max(int(np.searchsorted(grid.r_f, edge, side="right")) - 1, 0)

    def rate(r: Array) -> Array:
        return np.asarray(greatest * np.clip((r - edge) / width, 0.0, 1.0)[:, None] ** 2)

    return Beach(density, first, rate(grid.r_f[first:]), rate(grid.r_c[first:]))
