"""The reduced models: one ordinary differential equation each, one common result.

- quasi-static: small hole, equilibrium all the way
- heave: bowl, slug and inner water with their inertia
- falling: base gone
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from sinkbowl.case.case import Case
from sinkbowl.reduced import falling, heave, quasi_static
from sinkbowl.sinking import Sinking

MODELS: Mapping[str, Callable[[Case], Sinking]] = MappingProxyType(
    {
        quasi_static.MODEL: quasi_static.solve,
        heave.MODEL: heave.solve,
        falling.MODEL: falling.solve,
    }
)
"""Name of each model and the function that solves a case with it."""

__all__ = ["MODELS"]
