"""A verification case: a reference value, ours, and the difference allowed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class VerificationCase:
    """One check.

    name : what is checked, in a few words
    source : where the reference comes from, and whether it was seen there or is from memory
    reference, ours : the two values, in `unit`
    allowed : relative error that passes
    unit : SI unit, empty for a ratio
    kind : "within" the allowed error on both sides, or "at least" the reference less that error
    grids : (label, value) of each grid, coarse to fine, the last one ours; empty for an order,
        which is computed from those of another verification case
    note : what a reader must know to judge it
    """

    name: str
    source: str
    reference: float
    ours: float
    allowed: float
    unit: str = ""
    kind: Literal["within", "at least"] = "within"
    grids: tuple[tuple[str, float], ...] = ()
    note: str = ""

    @property
    def error(self) -> float:
        """Relative error of our value."""
        return self.ours / self.reference - 1.0

    @property
    def passed(self) -> bool:
        """Whether the verification case holds; a value that is not a number never does."""
        if self.kind == "at least":
            return self.error >= -self.allowed
        return abs(self.error) <= self.allowed


Check = Callable[[], VerificationCase | tuple[VerificationCase, ...]]
"""A function that computes its verification cases, grids and all."""
