"""Unequal holes: one head over all, each with its own law.

The areas add. Under a head H hole i passes Q_i(H) by the law of discharge.py with its own diameter,
Reynolds number, contraction and creeping resistance. If the total flow Q is known instead of the
head, as in the heave model, Q is divided so that all parts need the same head,

    e_i(Q_i) = g H for all i,   sum Q_i = Q,

e_i the energy of jet and losses (from first principles). The jet acting on the bowl is the mean,
weighted by flow: momenta add.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.kernels import hole


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
        """Source of the coefficient."""

    @property
    def rows(self) -> FloatArray:
        """The law for the kernels, (1, 9)."""


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
        """Source of the coefficient of the widest."""
        own = self.laws[0].source
        return own if own == self.laws[-1].source else f"each by its own law; the widest: {own}"

    @cached_property
    def rows(self) -> FloatArray:
        """The laws for the kernels, (n, 9)."""
        return np.vstack([law.rows for law in self.laws])

    def flow(self, head: float) -> float:
        """Flow under a steady head [m^3/s], of the head's sign."""
        return float(hole.flow_of_all(self.rows, head))

    def jet(self, flow: float, speed: float, outer_radius: float) -> tuple[float, float]:
        """Mean velocity of the jets relative to the bowl, and the head lost up to them times g.

        Parameters
        ----------
        flow : through all holes [m^3/s], positive into the bowl
        speed : of the bowl, downwards [m/s]
        outer_radius : of the bowl at the outer surface [m]
        """
        shares = np.empty(len(self.laws))
        jet, energy = hole.jet_of_all(self.rows, shares, flow, speed, outer_radius)
        return float(jet), float(energy)
