"""Asks about a mass that no material has, wherever it turns up."""

from __future__ import annotations

from sinkbowl.case.case import Case

DENSEST = 22_590.0
"""Density of osmium, the densest element [kg/m^3] (handbook value, from memory)."""


def density_warning(case: Case) -> str:
    """Asks about a bowl that is denser than any material; empty for any other."""
    density = case.bowl.mass / case.bowl.solid_volume
    if density <= DENSEST:
        return ""
    return (
        f"A bowl of {case.bowl.mass * 1e3:.4g} g with this wall would have "
        f"{density:.0f} kg/m\u00b3, more than any material (osmium: {DENSEST:.0f}). "
        "Is the mass right, is the wall?"
    )
