"""Effects on the water besides weight and pressure; one per file."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from sinkbowl.flow.kernels import Mesh
from sinkbowl.flow.state import FlowState


@dataclass(frozen=True)
class Exchange:
    """Effect of a force in one stride.

    on_bowl: upward force on the bowl [N], opposite to that on the water; impulse: upward, on the
    water, from neither bowl nor pressure [N s]; energy: lost by it there [J].
    """

    on_bowl: float = 0.0
    impulse: float = 0.0
    energy: float = 0.0


class Force(ABC):
    """Changes the velocities between convection and the pressure solve.

    column: of the history for the force on the bowl; None if there is none.
    """

    column: ClassVar[str | None] = None

    @abstractmethod
    def act(self, state: FlowState, mesh: Mesh, stride: float) -> Exchange:
        """Advance the velocities of the state by a stride [s], in place."""

    def longest_step(self, state: FlowState, mesh: Mesh) -> float:
        """Longest stable time step [s]; infinite without a limit."""
        return float(np.inf)

    def refit(self, mesh: Mesh, bottom: int) -> None:
        """Adapt to a mesh whose lowest open row, `bottom`, is on the tub's floor."""
        return
