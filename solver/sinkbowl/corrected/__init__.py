"""Best estimate: the heave model, corrected by a map of flow runs.

`MODELS` has the reduced models and this one by name.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from sinkbowl.common.sinking import Sinking
from sinkbowl.corrected import model
from sinkbowl.reduced import MODELS as REDUCED

MODELS: Mapping[str, Callable[..., Sinking]] = MappingProxyType(
    {**REDUCED, model.MODEL: model.solve}
)
"""Name of each model and the function that solves a case."""

__all__ = ["MODELS"]
