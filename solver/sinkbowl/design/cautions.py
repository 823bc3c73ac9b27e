"""Sentences on the effect of salt or soap, and on an impossible density."""

from sinkbowl.case.case import Case
from sinkbowl.common.water import water_at
from sinkbowl.statics.capillarity import hole_breakthrough_head
from sinkbowl.statics.hydrostatics import solid_volume


def water_effect(case: Case) -> str:
    """Sentences that compare salt water and soap with clean fresh water; empty for that."""
    water, clean = case.water, water_at(case.water.temperature)
    found = []
    if water.salinity > 0.0:
        volume = 1e3 * solid_volume(case)
        found.append(
            f"In this salt water, {water.density:.1f} kg/m\u00b3, it sinks if it weighs more than "
            f"{volume * water.density:.4g} g; in fresh water, {volume * clean.density:.4g} g."
        )
    if water.tension_stated:
        here, there = (
            1e3 * hole_breakthrough_head(case.hole.diameter, one, case.contact_angle)
            for one in (water, clean)
        )
        found.append(
            f"With this surface tension {here:.2g} mm of head start the flow; in clean water "
            f"{there:.2g} mm at the same contact angle."
        )
    return " ".join(found)


DENSEST = 22_590.0
"""Density of osmium, the densest element [kg/m^3] (handbook value, from memory)."""


def density_warning(case: Case) -> str:
    """Warning for a bowl denser than any material; empty for others."""
    density = case.bowl.mass / case.bowl.solid_volume
    if density <= DENSEST:
        return ""
    return (
        f"A bowl of {case.bowl.mass * 1e3:.4g} g with this wall would have "
        f"{density:.0f} kg/m\u00b3, more than any material (osmium: {DENSEST:.0f}). "
        "Check the mass and the wall."
    )
