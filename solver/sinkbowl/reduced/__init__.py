"""The reduced models: one ordinary differential equation each, one common result.

- quasi-static: small hole, equilibrium throughout
- heave: bowl, fluid in the hole and inner water with inertia
- falling: base gone
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Protocol

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced import falling, heave, quasi_static


class Model(Protocol):
    """A model solves a case; with `quick` only for the sinking time."""

    def __call__(self, case: Case, quick: bool = False) -> Sinking: ...


MODELS: Mapping[str, Model] = MappingProxyType(
    {
        quasi_static.MODEL: quasi_static.solve,
        heave.MODEL: heave.solve,
        falling.MODEL: falling.solve,
    }
)
"""Name of each model and the function that solves a case."""

__all__ = ["MODELS"]
