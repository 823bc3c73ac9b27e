"""The best time of a bowl beside what was measured of it."""

from __future__ import annotations

from typing import Any

from sinkbowl.case.case import Case
from sinkbowl.common.best import SENSITIVE
from sinkbowl.corrected.model import best_time
from sinkbowl.design.budget.variation import meniscus_aside


def best_line(case: Case) -> str:
    """In a sentence; empty where its rim stays dry."""
    best = best_time(meniscus_aside(case))
    if best is None:
        return ""
    told = f"This bowl as described: {best} ({best.model})."
    return f"{told} {SENSITIVE}" if best.sensitive else told


def best_figures(case: Case) -> dict[str, Any]:
    """For scripts, units in the keys."""
    best = best_time(meniscus_aside(case))
    return {"best": None if best is None else best.as_dict()}
