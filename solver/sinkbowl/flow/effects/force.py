"""What acts on the water besides weight, pressure and the orifice model, in one form."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from sinkbowl.flow.kernels.mesh import Mesh
from sinkbowl.flow.state import FlowState


@dataclass(frozen=True)
class Exchange:
    """What a force did in one stride.

    on_bowl: upward force on the bowl [N], the opposite of what the water got from it; impulse: that
    the water got, upwards, from neither bowl nor pressure [N s]; energy: that it lost there [J].
    """

    on_bowl: float = 0.0
    impulse: float = 0.0
    energy: float = 0.0


class Force(ABC):
    """Changes the water's velocities between convection and the pressure solve.

    column: of the history, in which the force on the bowl is booked; None where there is none.
    """

    column: ClassVar[str | None] = None

    @abstractmethod
    def act(self, state: FlowState, mesh: Mesh, stride: float) -> Exchange:
        """Advance the velocities of the state by a stride [s], in place."""

    def longest_step(self, state: FlowState, mesh: Mesh) -> float:
        """Longest stable time step [s]; infinite where the force sets no limit."""
        return float(np.inf)

    def refit(self, mesh: Mesh, bottom: int) -> None:
        """Follow a mesh whose lowest open row, `bottom`, has come to stand on the tub's floor."""
        return
