"""Air that the water closes off: how much each pocket holds, and its pressure.

A pocket keeps its air, and its pressure above the atmosphere's p_a follows the gas law

    q = p_a ((N/V)^gamma - 1),

N being its amount of air, as the volume that it has at p_a, and V its volume now. The exponent is
that of an adiabatic change: in the tenth of a second that a pocket lives heat goes through a
millimetre of air (sqrt(a t), a = 2e-5 m^2/s). Pockets are found anew in every step and followed
through the cells that they share: one that parts in two gives each its share of volume, two that
meet add up, what meets the open air is vented, and a new one holds the open air that was there. All
that comes and goes is counted, so that no air is lost or made.

Bodies of air of a few cells stay at the atmosphere's pressure, as all do with `air = "void"`: their
volume is no better known than the cells they touch, and real air of that size is bubbles that
axisymmetry does not have.
"""

from __future__ import annotations

from dataclasses import InitVar, dataclass, field

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.constants import ATMOSPHERE
from sinkbowl.flow.grid.grid import Array
from sinkbowl.flow.kernels import pockets
from sinkbowl.flow.kernels.mesh import Mesh
from sinkbowl.flow.kernels.pockets import PocketTerms
from sinkbowl.flow.state import MOST_POCKETS, FlowState

ADIABATIC = 1.4
"""Ratio of the specific heats of air (of a gas of two atoms, 7/5)."""

LEAST_CELLS = 32
"""Cells of the smallest body of air that has a pressure of its own."""


@dataclass(frozen=True)
class ClosedAir:
    """The pockets of one instant, per radian.

    volume, air (n,): volume and amount of each [m^3], no amount where it is at the atmosphere's
    pressure; number (n+1,): of each label, from 0, among those that have a pressure of their own,
    counted from 1; closed, vented: amounts taken from and
    given to air at the atmosphere's pressure in this step [m^3].
    """

    volume: Array = field(default_factory=lambda: np.zeros(0))
    air: Array = field(default_factory=lambda: np.zeros(0))
    number: NDArray[np.int64] = field(default_factory=lambda: np.zeros(1, dtype=np.int64))
    closed: float = 0.0
    vented: float = 0.0
    exponent: float = ADIABATIC

    @property
    def count(self) -> int:
        """Number of pockets that have a pressure of their own."""
        return int(self.number.max())

    @property
    def pressure(self) -> Array:
        """Of those, above the atmosphere's, at the present volumes [Pa]."""
        kept = self.number[1:] > 0
        return np.asarray(
            ATMOSPHERE * ((self.air[kept] / self.volume[kept]) ** self.exponent - 1.0)
        )

    @property
    def energy(self) -> float:
        """Work that the gas can do on its way to the atmosphere's pressure [J per radian].

        Integral of q from V to N; the isothermal limit for an exponent of one.
        """
        kept = self.number[1:] > 0
        n, v, rest = self.air[kept], self.volume[kept], self.exponent - 1.0
        inner = n * np.log(n / v) if rest == 0.0 else n / rest * ((n / v) ** rest - 1.0)
        return float(ATMOSPHERE * np.sum(inner + v - n))

    def enter(self, terms: PocketTerms, stride: float) -> None:
        """Add the gas law over a stride [s] to the pockets' equations."""
        q, n = self.pressure, self.count
        compliance = self.volume[self.number[1:] > 0] / (self.exponent * (ATMOSPHERE + q) * stride)
        terms.own[:n] += compliance
        terms.source[:n] += compliance * q


@dataclass(frozen=True)
class Pockets:
    """Finds and follows the closed-off air of one run.

    kept: whether it keeps its amount; else it is only measured; exponent: of the gas law.
    """

    grid_shape: InitVar[tuple[int, int]]
    kept: bool = True
    exponent: float = ADIABATIC
    label: NDArray[np.int16] = field(init=False)
    queue: NDArray[np.int64] = field(init=False)
    water_before: Array = field(init=False)
    size: NDArray[np.int64] = field(default_factory=lambda: np.zeros(MOST_POCKETS, dtype=np.int64))

    def __post_init__(self, grid_shape: tuple[int, int]) -> None:
        object.__setattr__(self, "label", np.zeros(grid_shape, dtype=np.int16))
        object.__setattr__(self, "queue", np.zeros(self.label.size, dtype=np.int64))
        object.__setattr__(self, "water_before", np.zeros(grid_shape))

    def follow(self, state: FlowState, mesh: Mesh) -> ClosedAir:
        """Find the pockets of a state, with the air that each has now, and leave them in it.

        `water_before` holds the water of the step before.
        """
        n = pockets.label_air(mesh, state.liquid, self.label, self.size, self.queue)
        held = state.pocket_air[: state.pockets].copy()
        volume, fresh, shared = np.zeros(n), np.zeros(n), np.zeros((len(held), n + 1))
        if n or held.any():
            pockets.measure(
                mesh,
                state.water,
                self.water_before,
                state.liquid,
                self.label,
                state.pocket,
                held,
                volume,
                fresh,
                shared,
            )
        own = (self.size[:n] >= LEAST_CELLS) & self.kept
        followed = share_out(shared, held) * own
        fresh = np.where(followed > 0.0, fresh, volume) * own  # a new one begins at p_a
        state.pocket[:] = self.label
        state.pockets = n
        state.pocket_air[:n] = fresh + followed
        return ClosedAir(
            volume=volume,
            air=fresh + followed,
            number=np.concatenate(([0], np.where(own, np.cumsum(own), 0))),
            closed=float(fresh.sum()),
            vented=float(held.sum() - followed.sum()),
            exponent=self.exponent,
        )


def share_out(shared: Array, held: Array) -> Array:
    """Air that the new pockets have from the old ones, by room (n,) [m^3].

    shared : room that each old pocket's cells have now, by what they belong to, the open air and
        what is no pocket first (m, n+1) [m^3]; held : air of the old ones (m,) [m^3]
    """
    whole = shared.sum(axis=1)
    return np.asarray(held @ (shared[:, 1:] / np.where(whole > 0.0, whole, 1.0)[:, None]))
