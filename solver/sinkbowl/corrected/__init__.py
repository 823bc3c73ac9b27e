"""Heave, corrected: the heave model times what a map of the flow solver's runs has to say.

`MODELS` are the reduced models and this one, for whoever asks for a time by a model's name.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from sinkbowl.corrected import model
from sinkbowl.reduced import MODELS as REDUCED
from sinkbowl.reduced import Model

MODELS: Mapping[str, Model] = MappingProxyType({**REDUCED, model.MODEL: model.solve})
"""Name of each model and the function that solves a case with it."""

__all__ = ["MODELS"]
