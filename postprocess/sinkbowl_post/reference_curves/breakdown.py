"""Where each reduced model still agrees with the flow solver, and why it stops.

A model counts as within 2, 5 or 10 % at a hole if its sinking time is that near the flow solver's.
What makes a model fail is listed with its size; an effect below NEGLIGIBLE is not
named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import fmean

from sinkbowl_post.reference_curves.points import RunPoint

LEVELS = (0.02, 0.05, 0.10)
NEGLIGIBLE = 0.03
MOST_DRILLED = 0.8
"""Mass left of a bowl, over what it was, until which its holes count as one family."""


@dataclass(frozen=True)
class Region:
    """Neighbouring holes over which one model does equally well.

    Attributes
    ----------
    model, mass_ratio : which model, which family
    low, high : smallest and widest d/D of the region's runs
    within : the finest of LEVELS that holds; None where none does
    reasons : what makes the model deviate, in words, the largest first; empty where within 2 %
    """

    model: str
    mass_ratio: float
    low: float
    high: float
    within: float | None
    reasons: tuple[str, ...]

    @property
    def words(self) -> str:
        """The region as a sentence."""
        span = f"d/D {self.low:.2f}" + (f" to {self.high:.2f}" if self.high > self.low else "")
        if self.within is None:
            told = f"off by more than {100 * LEVELS[-1]:.0f} %"
        else:
            told = f"within {100 * self.within:.0f} %"
        why = f" ({'; '.join(self.reasons)})" if self.reasons else ""
        return f"{span}: {told}{why}"


def level_of(deviation: float | None) -> float | None:
    """The finest of LEVELS that a deviation keeps."""
    if deviation is None:
        return None
    return next((level for level in LEVELS if abs(deviation) <= level), None)


def breakdown(points: Sequence[RunPoint]) -> list[Region]:
    """Regions of all models and families, from narrow to wide holes.

    Parameters
    ----------
    points : sorted by mass ratio and hole, as `read_points` gives them
    """
    regions: list[Region] = []
    for mass_ratio, family in families(points):
        for model in family[0].models:
            regions += _regions(model, mass_ratio, family)
    return regions


def _regions(model: str, mass_ratio: float, family: Sequence[RunPoint]) -> list[Region]:
    told = [(level_of(p.deviation(model)), p) for p in family if p.models[model] is not None]
    regions = []
    for within, group in groupby(told, lambda pair: pair[0]):
        runs = [point for _, point in group]
        regions.append(
            Region(
                model=model,
                mass_ratio=mass_ratio,
                low=runs[0].hole_ratio,
                high=runs[-1].hole_ratio,
                within=within,
                reasons=() if within == LEVELS[0] else reasons(runs, model),
            )
        )
    return regions


def families(points: Sequence[RunPoint]) -> list[tuple[float, list[RunPoint]]]:
    """Runs of one title and one mass ratio (to a hundredth), by hole, with their mean ratio.

    A bowl of given density loses with its hole a little mass: all of its holes are one family.
    """

    def title(point: RunPoint) -> str:
        return point.title

    def ratio(point: RunPoint) -> float:
        return round(point.mass_ratio, 2)

    found = []
    for _, group in groupby(sorted(points, key=title), title):
        runs = sorted(group, key=lambda point: point.hole)
        if _drilled(runs):
            found.append(runs)
        else:
            by_ratio = groupby(sorted(runs, key=lambda p: (ratio(p), p.hole)), ratio)
            found.extend(list(family) for _, family in by_ratio)
    return [(round(fmean(p.mass_ratio for p in runs), 2), runs) for runs in found]


def _drilled(runs: Sequence[RunPoint]) -> bool:
    """Whether the mass falls a little with every wider hole, as in a bowl that is drilled up."""
    pairs = list(pairwise(runs))
    falls = all(b.hole > a.hole and b.mass_ratio < a.mass_ratio for a, b in pairs)
    return bool(pairs) and falls and runs[-1].mass_ratio > MOST_DRILLED * runs[0].mass_ratio


def reasons(runs: Sequence[RunPoint], model: str) -> tuple[str, ...]:
    """What the runs of a region have that the model leaves out, the largest effect first."""
    last = runs[-1] if model != "falling" else runs[0]
    found: list[tuple[float, str]] = []
    if model != "falling":
        lost = last.discharge
        if lost is not None and abs(lost) > NEGLIGIBLE:
            found.append((abs(lost), f"discharge coefficient {100 * lost:+.0f} %"))
    if model == "quasi-static":
        found.append((last.inertia, f"inertia, {100 * last.inertia:.0f} % of free fall"))
        found.append((last.jet, f"jet momentum, {100 * last.jet:.0f} % of the weight"))
    if model == "falling":
        found.append((1.0, "base left: water has to pass the hole"))
    named = [words for size, words in sorted(found, reverse=True) if size > NEGLIGIBLE]
    if any(run.overflow for run in runs):
        named.append("water over the rim before it is under")
    if any(run.plugged for run in runs):
        named.append("the meniscus plugs the hole until a push")
    return tuple(named)
