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

from dataclasses import dataclass, field

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

    volume, air (n,): volume and amount of each [m^3]; number (n+1,): of each label, from 0, among
    those that have a pressure of their own, counted from 1; closed, vented: amounts taken from and
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

    shape: tuple[int, int]
    kept: bool = True
    exponent: float = ADIABATIC
    label: NDArray[np.int16] = field(init=False)
    queue: NDArray[np.int64] = field(init=False)
    size: NDArray[np.int64] = field(default_factory=lambda: np.zeros(MOST_POCKETS, dtype=np.int64))
    volume: Array = field(default_factory=lambda: np.zeros(MOST_POCKETS))
    shared: Array = field(default_factory=lambda: np.zeros((MOST_POCKETS + 1, MOST_POCKETS + 1)))

    def __post_init__(self) -> None:
        object.__setattr__(self, "label", np.zeros(self.shape, dtype=np.int16))
        object.__setattr__(self, "queue", np.zeros(self.shape[0] * self.shape[1], dtype=np.int64))

    def follow(self, state: FlowState, mesh: Mesh) -> ClosedAir:
        """Find the pockets of a state, with the air that each has now, and leave them in it."""
        old = state.pockets
        n = pockets.label_air(mesh, state.liquid, self.label, self.size, self.queue)
        if n == old == 0:
            state.pocket[:] = self.label
            return ClosedAir()
        pockets.measure(
            mesh,
            state.water,
            state.liquid,
            self.label,
            state.pocket,
            n,
            old,
            self.volume,
            self.shared,
        )
        volume, held = self.volume[:n].copy(), state.pocket_air[:old]
        own = (self.size[:n] >= LEAST_CELLS) & self.kept
        fresh, followed = share_out(self.shared[: old + 1, : n + 1], volume, held)
        air = np.where(own, fresh + followed, volume)
        closed = float(np.sum(np.where(own, fresh, np.maximum(volume - followed, 0.0))))
        vented = float(held.sum() + closed - air.sum())
        state.pocket[:] = self.label
        state.pockets = n
        state.pocket_air[:n] = air
        number = np.concatenate(([0], np.where(own, np.cumsum(own), 0)))
        return ClosedAir(volume, air, number, closed, vented, self.exponent)


def share_out(shared: Array, volume: Array, held: Array) -> Array:
    """Air of the new pockets from that of the old ones and of the open air.

    Parameters
    ----------
    shared : room that old label (row) and new label (column) have in common, both from 0 for open
        air and cells that belong to no pocket (m+1, n+1) [m^3]
    volume : of the new pockets (n,) [m^3]
    held : air of the old ones (m,) [m^3]

    Returns
    -------
    air of the new pockets, that from the atmosphere's air first (2, n) [m^3]
    """
    weight = shared.copy()
    known = weight[:, 1:].sum(axis=0)
    weight[:, 1:] *= volume / np.where(known > 0.0, known, 1.0)
    weight[0, 1:] += np.where(known > 0.0, 0.0, volume)
    whole = weight[1:].sum(axis=1)
    share = weight[1:, 1:] / np.where(whole > 0.0, whole, 1.0)[:, None]
    return np.stack((weight[0, 1:], held @ share))
