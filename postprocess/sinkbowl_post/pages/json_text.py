"""Figures as JSON text."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any


def json_text(figures: Mapping[str, Any]) -> str:
    """Figures as JSON; null for what is no finite number."""
    return json.dumps(_plain(figures), indent=2)


def _plain(value: Any) -> Any:
    """Numbers as JSON knows them: no numpy types, null for what is not a number."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(entry) for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
