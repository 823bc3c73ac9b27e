"""Unequal holes side by side: one head over all, each with its own law.

The areas add. Under a head H hole i passes Q_i(H) by the law of discharge.py with its own diameter,
Reynolds number, contraction and creeping resistance. Where the flow Q of all is known rather than
the head, as in the heave model, Q is shared out so that each share needs the same head,

    e_i(Q_i) = g H for all i,   sum Q_i = Q,

e_i the energy of jet and losses (from first principles). The jet that the bowl feels is the mean of
theirs, by flow: their momenta add.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

ROUNDS = 6
"""Corrections of the shares, which halve what is wrong of slow flow and square that of fast flow:
within 1e-4 of the same head after them."""

LEAST_FLOW = 1e-30
"""Below which the energies' numbers become too small to be divided by [m^3/s]."""


class HoleLaw(Protocol):
    """Law of equal holes, see `discharge.Discharge`."""

    @property
    def area(self) -> float:
        """Of all [m^2]."""

    @property
    def length(self) -> float:
        """Of each [m]."""

    @property
    def source(self) -> str:
        """Where the coefficient comes from."""

    def flow(self, head: float) -> float:
        """Flow under a steady head [m^3/s]."""

    def jet(self, flow: float, speed: float, outer_radius: float) -> tuple[float, float]:
        """Velocity of the jet [m/s] and energy [m^2/s^2] at a flow [m^3/s]."""


@dataclass(frozen=True)
class SideBySide:
    """Laws of unequal holes, each of equal ones.

    Attributes
    ----------
    laws : of the groups of equal holes, the widest first
    """

    laws: tuple[HoleLaw, ...]

    @property
    def area(self) -> float:
        """Area of all [m^2]."""
        return sum(law.area for law in self.laws)

    @property
    def length(self) -> float:
        """Of each [m]."""
        return self.laws[0].length

    @property
    def source(self) -> str:
        """Where the coefficient of the widest comes from."""
        own = self.laws[0].source
        return own if own == self.laws[-1].source else f"each by its own law; the widest: {own}"

    def flow(self, head: float) -> float:
        """Flow under a steady head [m^3/s], of the head's sign."""
        return sum(law.flow(head) for law in self.laws)

    def jet(self, flow: float, speed: float, outer_radius: float) -> tuple[float, float]:
        """Mean velocity of the jets relative to the bowl, and the head lost up to them times g.

        Parameters
        ----------
        flow : through all holes [m^3/s], positive into the bowl
        speed : of the bowl, downwards [m/s]
        outer_radius : of the bowl at the outer surface [m]
        """
        shares = [law.area / self.area for law in self.laws]
        for _ in range(ROUNDS if abs(flow) > LEAST_FLOW else 0):
            jets = self._jets(shares, flow, speed, outer_radius)
            weights = [
                share * (1.0 / abs(energy)) ** 0.5
                for share, (_, energy) in zip(shares, jets, strict=True)
            ]
            shares = [weight / sum(weights) for weight in weights]
        jets = self._jets(shares, flow, speed, outer_radius)
        jet = sum(share * jet for share, (jet, _) in zip(shares, jets, strict=True))
        energy = sum(share * energy for share, (_, energy) in zip(shares, jets, strict=True))
        return jet, energy

    def _jets(
        self, shares: Sequence[float], flow: float, speed: float, outer_radius: float
    ) -> list[tuple[float, float]]:
        """Jet and energy of each group with its share of the flow."""
        return [
            law.jet(share * flow, speed, outer_radius)
            for law, share in zip(self.laws, shares, strict=True)
        ]
