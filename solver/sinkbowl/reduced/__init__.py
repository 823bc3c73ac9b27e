"""The reduced models: one ordinary differential equation each, one common result.

- quasi-static: small hole, equilibrium throughout
- heave: bowl, fluid in the hole and inner water with inertia
- falling: base gone
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced import falling, heave, quasi_static
from sinkbowl.reduced.heeled_filling import with_heel

MODELS: Mapping[str, Callable[..., Sinking]] = MappingProxyType(
    {
        quasi_static.MODEL: quasi_static.solve,
        heave.MODEL: heave.solve,
        falling.MODEL: falling.solve,
    }
)
"""Name of each model and the function that solves a case, upright, also `beyond` the rim."""


def sinkings(case: Case) -> dict[str, Sinking]:
    """Sinking of a case by every model, with the events of its heel.

    Raises RunError if an integration does not end.
    """
    found = {name: solve(case) for name, solve in MODELS.items()}
    filling = {name: one for name, one in found.items() if name != falling.MODEL}
    return found | {name: with_heel(case, one) for name, one in filling.items()}


__all__ = ["MODELS", "sinkings"]
