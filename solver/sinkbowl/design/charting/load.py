"""The mass that a chart varies: that of the ballast ring, or of a bowl without one.

A ring keeps its place and material, as in sizing; a bowl keeps its centre of gravity.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.sizing.design_variable import NEUTRAL, ballast_setting
from sinkbowl.statics.hydrostatics import displaced_volume, dry_draft, solid_volume

BEYOND = 1e-4
"""Relative increase of the mass to find what limits the heaviest."""

LoadKind = Literal["ballast", "bowl"]


@dataclass(frozen=True)
class Span:
    """Masses with which a bowl with a given hole floats dry and finally sinks [kg].

    Attributes
    ----------
    low, high : lightest that sinks, heaviest that floats with its hole shut or that fits
    floats_below : whether it floats below the low end
    under_above : whether it goes under at once above the high end; else nothing heavier fits
    """

    low: float
    high: float
    floats_below: bool
    under_above: bool


def load_kind(case: Case) -> LoadKind:
    """The varied part: the ring if there is one."""
    return "ballast" if case.ballast.ring else "bowl"


def load_of(case: Case) -> float:
    """Mass of the varied part [kg]."""
    return (case.ballast.ring or case.bowl).mass


def with_load(case: Case, mass: float) -> Case:
    """The case with another mass [kg] of ring or bowl."""
    ring = case.ballast.ring
    if ring is None:
        return replace(case, bowl=case.bowl.weighing(mass))
    return replace(case, ballast=case.ballast.with_ring(replace(ring, mass=mass)))


def span(case: Case, top: float = math.inf) -> Span:
    """Masses on the chart for the hole of the case.

    Parameters
    ----------
    case : the bowl
    top : heaviest load of the chart [kg]

    Raises
    ------
    CaseError : a ring that floats or has no room, or a bowl that goes under with any ballast
    """
    if load_kind(case) == "bowl":
        density, other = case.water.density, case.total_mass - case.bowl.mass
        low = density * solid_volume(case) * (1.0 + NEUTRAL) - other
        high = density * displaced_volume(case, case.bowl.rim_height) - other
        return Span(low, high, True, True)
    setting = ballast_setting(case)
    if dry_draft(with_load(case, setting.low)) is None:
        raise CaseError(
            "goes under at once, whatever hole and ballast: a chart would be empty",
            file=str(case.path or case.title),
            key="bowl.mass",
            given=f"{case.bowl.mass * 1e3:.4g} g",
            allowed="Give a lighter bowl.",
        )
    high = min(setting.high, top)
    beyond = dry_draft(with_load(case, high * (1.0 + BEYOND))) is None
    return Span(setting.low, high, setting.floats_below, beyond)
