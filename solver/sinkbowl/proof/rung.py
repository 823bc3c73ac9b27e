"""One rung of the ladder of proof: a value known from outside and the one found here."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Rung:
    """A check value and what the solver gives for it.

    `allowed` is the relative error within which ours must lie, or by which it may fall below a
    reference that it must reach ("at least"); `grids` holds names of grids and what they give.
    """

    name: str
    source: str
    reference: float
    ours: float
    allowed: float
    unit: str = "1"
    kind: Literal["within", "at least"] = "within"
    grids: tuple[tuple[str, float], ...] = ()
    note: str = ""

    @property
    def error(self) -> float:
        """Relative error of ours."""
        return self.ours / self.reference - 1.0

    @property
    def passed(self) -> bool:
        """Whether ours lies within what is allowed."""
        if self.kind == "at least":
            return self.error >= -self.allowed
        return abs(self.error) <= self.allowed
