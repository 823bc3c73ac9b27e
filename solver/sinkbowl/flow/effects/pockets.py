"""Closed-off air: amount and pressure of each pocket.

The amount of air in a pocket is conserved, and its pressure above the atmosphere's p_a follows the
gas law

    q = p_a ((N/V)^gamma - 1),

N being its amount of air, as a volume at p_a, and V its volume. The exponent is adiabatic: during
the life of a pocket, a tenth of a second, heat penetrates a millimetre of air (sqrt(a t), a = 2e-5
m^2/s). Pockets are found in every step and identified by shared cells: one that splits divides its
air by volume, merging ones add theirs, air that meets the open air is vented, and a new pocket
takes the open air that was there. All changes are counted, so that air is conserved.

Bodies of air of a few cells stay at atmospheric pressure, as all do with `air = "void"`: their
volume is inaccurate, and real air of that size forms bubbles, which are not axisymmetric.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common import ATMOSPHERE
from sinkbowl.flow.grid import Array
from sinkbowl.flow.kernels import Mesh, pockets
from sinkbowl.flow.kernels.pockets import PocketTerms
from sinkbowl.flow.state import MOST_POCKETS, FlowState

ADIABATIC = 1.4  # ratio of the specific heats of air (of a gas of two atoms, 7/5)
LEAST_CELLS = 32  # cells of the smallest body of air with its own pressure


@dataclass(frozen=True)
class ClosedAir:
    """The pockets of one instant, per radian.

    volume, air (n,): volume and amount of each [m^3], amount 0 at atmospheric pressure; number
    (n+1,): of each label, from 0, among those with their own pressure, counted from 1; closed,
    vented: amounts taken from and given to air at atmospheric pressure in this step [m^3].
    """

    volume: Array = field(default_factory=lambda: np.zeros(0))
    air: Array = field(default_factory=lambda: np.zeros(0))
    number: NDArray[np.int64] = field(default_factory=lambda: np.zeros(1, dtype=np.int64))
    closed: float = 0.0
    vented: float = 0.0
    exponent: float = ADIABATIC

    @property
    def count(self) -> int:
        """Number of pockets with their own pressure."""
        return int(self.number.max())

    @property
    def pressure(self) -> Array:
        """Their pressures above the atmosphere's at the present volumes [Pa]."""
        kept = self.number[1:] > 0
        return np.asarray(
            ATMOSPHERE * ((self.air[kept] / self.volume[kept]) ** self.exponent - 1.0)
        )

    @property
    def energy(self) -> float:
        """Work of the gas until it reaches atmospheric pressure [J per radian].

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


class Pockets:
    """Finds and follows the closed-off air of one run.

    kept: whether air keeps its amount, otherwise it is only measured; exponent: of the gas law.
    """

    def __init__(
        self, shape: tuple[int, int], kept: bool = True, exponent: float = ADIABATIC
    ) -> None:
        self.kept, self.exponent = kept, exponent
        self.label, self.queue = np.zeros(shape, np.int16), np.zeros(shape[0] * shape[1], np.int64)
        self.water_before, self.size = np.zeros(shape), np.zeros(MOST_POCKETS, np.int64)

    def follow(self, state: FlowState, mesh: Mesh) -> ClosedAir:
        """Find the pockets of a state and the air in each, and store them in the state.

        `water_before` is the water of the previous step.
        """
        n = pockets.label_air(mesh, state.liquid, self.label, self.size, self.queue)
        held = state.pocket_air[: state.pockets].copy()
        volume, fresh, shared = np.zeros(n), np.zeros(n), np.zeros((len(held), n + 1))
        if n or held.any():
            water, labels = (state.water, self.water_before), (self.label, state.pocket)
            pockets.measure(mesh, *water, state.liquid, *labels, held, volume, fresh, shared)
        own = (self.size[:n] >= LEAST_CELLS) & self.kept
        followed = divided_air(shared, held) * own
        fresh = np.where(followed > 0.0, fresh, volume) * own  # a new one starts at p_a
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


def divided_air(shared: Array, held: Array) -> Array:
    """Air of the new pockets from the old ones, by shared volume (n,) [m^3].

    shared : volume of each old pocket's cells in each new pocket, first column open air or no
        pocket (m, n+1) [m^3]; held : air of the old ones (m,) [m^3]
    """
    whole = shared.sum(axis=1)
    return np.asarray(held @ (shared[:, 1:] / np.where(whole > 0.0, whole, 1.0)[:, None]))
