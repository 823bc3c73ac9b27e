"""The verification suite: the solver against closed forms and published values.

A verification case has a reference value, a computed value and an allowed error.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

Grids = tuple[tuple[str, float], ...]  # label and value of each grid, coarse to fine


@dataclass(frozen=True)
class VerificationCase:
    """One check.

    name : of the check
    source : of the reference, and whether seen or from memory
    reference, ours : reference and computed value, in `unit`
    allowed : relative error that passes
    unit : SI unit, empty for a ratio
    kind : "within" the allowed error, or "at least" the reference minus that error
    grids : (label, value) of each grid, coarse to fine, the last one `ours`; empty for an order,
        which follows from another verification case
    note : remark needed to judge it
    """

    name: str
    source: str
    reference: float
    ours: float
    allowed: float
    unit: str = ""
    kind: Literal["within", "at least"] = "within"
    grids: Grids = ()
    note: str = ""

    @property
    def error(self) -> float:
        """Relative error of the computed value."""
        return self.ours / self.reference - 1.0

    @property
    def passed(self) -> bool:
        """Whether the check passes; a value that is not a number never does."""
        if self.kind == "at least":
            return self.error >= -self.allowed
        return abs(self.error) <= self.allowed


Check = Callable[[], VerificationCase | tuple[VerificationCase, ...]]
"""A function that computes verification cases on all grids."""


def on_grids(compute: Callable[[int], float], cells: Sequence[int], what: str = "radius") -> Grids:
    """A value computed on grids of so many cells a radius, or whatever else they are counted by."""
    return tuple((f"{n} cells a {what}", compute(n)) for n in cells)


def finest(
    name: str,
    source: str,
    reference: float,
    grids: Grids,
    allowed: float,
    unit: str = "",
    kind: Literal["within", "at least"] = "within",
    note: str = "",
) -> VerificationCase:
    """A verification case of the value on the finest grid."""
    return VerificationCase(name, source, reference, grids[-1][1], allowed, unit, kind, grids, note)


def order(name: str, source: str, least: float, found: float, note: str = "") -> VerificationCase:
    """A verification case of an observed order of accuracy."""
    return VerificationCase(
        f"order of accuracy, {name}", source, least, found, 0.0, kind="at least", note=note
    )
