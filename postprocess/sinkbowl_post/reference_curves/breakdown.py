"""Ranges of validity of the reduced models, and the causes of differences.

A model is within 2, 5 or 10 % at a hole if its sinking time is that close to every time in the flow
solver's interval, and off if it is so to none. Otherwise it is undecided. Causes are given for
differences outside the interval (comparing/reasons.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from statistics import fmean

from sinkbowl_post.comparing.reasons import NOTEWORTHY, PHRASES, REMAINDER, causes, explains
from sinkbowl_post.reference_curves.points import RunPoint, models_of

LEVELS = (0.02, 0.05, 0.10)
NEGLIGIBLE = 0.01  # share of the flow's time below which a cause is not named
MOST_DRILLED = 0.8  # minimum ratio of a drilled bowl's mass to the original for one family of holes

WITHIN, OFF, UNDECIDED = "within", "off", "unknown"


@dataclass(frozen=True)
class Region:
    """Neighbouring holes with the same verdict on a model.

    model, mass_ratio : model and family
    low, high : smallest and widest d/D of the region's runs
    verdict : WITHIN, OFF (by more than the last of LEVELS) or undecided
    within : the finest of LEVELS that applies, or None
    interval : widest half interval of the flow's times in the region, 95 %, over the time
    reasons : causes of the difference, in words, the largest first; empty within the finest of
        LEVELS, inside the interval, or if unknown
    """

    model: str
    mass_ratio: float
    low: float
    high: float
    verdict: str
    within: float | None
    interval: float
    reasons: tuple[str, ...]

    @property
    def words(self) -> str:
        """The region as a sentence."""
        span = f"d/D {self.low:.2f}" + (f" to {self.high:.2f}" if self.high > self.low else "")
        if self.within is not None:
            text = f"within {100 * self.within:.0f} %"
        elif self.verdict == OFF:
            text = f"off by more than {100 * LEVELS[-1]:.0f} %"
        else:
            text = f"within {100 * LEVELS[-1]:.0f} % cannot be decided"
        if self.verdict == UNDECIDED:
            text += (
                f", because the flow's interval is up to \u00b1 {100 * self.interval:.2g} % (95 %)"
            )
        why = f" ({'; '.join(self.reasons)})" if self.reasons else ""
        return f"{span}: {text}{why}"


def level_of(deviation: float | None, half_width: float = 0.0) -> float | None:
    """The finest of LEVELS that a deviation does not exceed anywhere in its interval."""
    if deviation is None:
        return None
    return next((level for level in LEVELS if abs(deviation) + half_width <= level), None)


def verdict_of(deviation: float, half_width: float) -> str:
    """Whether a model is within the last of LEVELS, off, or undecided."""
    if level_of(deviation, half_width) is not None:
        return WITHIN
    return OFF if abs(deviation) - half_width > LEVELS[-1] else UNDECIDED


def breakdown(points: Sequence[RunPoint]) -> list[Region]:
    """Regions of all models and families, from narrow to wide holes.

    points : sorted by mass ratio and hole, as from `read_points`
    """
    regions: list[Region] = []
    for mass_ratio, family in families(points):
        for model in models_of(family):
            regions += _regions(model, mass_ratio, family)
    return regions


def _regions(model: str, mass_ratio: float, family: Sequence[RunPoint]) -> list[Region]:
    text = []
    for point in family:
        deviation = point.deviation(model)
        if deviation is not None:
            half = point.interval.half / point.time
            text.append(((verdict_of(deviation, half), level_of(deviation, half)), point))
    regions = []
    for (verdict, within), group in groupby(text, lambda pair: pair[0]):
        runs = [point for _, point in group]
        regions.append(
            Region(
                model=model,
                mass_ratio=mass_ratio,
                low=runs[0].hole_ratio,
                high=runs[-1].hole_ratio,
                verdict=verdict,
                within=within,
                interval=max(run.interval.half / run.time for run in runs),
                reasons=() if within == LEVELS[0] else reasons(runs, model),
            )
        )
    return regions


def families(points: Sequence[RunPoint]) -> list[tuple[float, list[RunPoint]]]:
    """Runs of one title and one mass ratio (to a hundredth), by hole, with their mean ratio.

    A bowl of given density loses a little mass with its hole: all its holes are one family.
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
    """Whether the mass decreases a little with every wider hole, as in a bowl drilled wider."""
    pairs = list(pairwise(runs))
    falls = all(b.hole > a.hole and b.mass_ratio < a.mass_ratio for a, b in pairs)
    return bool(pairs) and falls and runs[-1].mass_ratio > MOST_DRILLED * runs[0].mass_ratio


def reasons(runs: Sequence[RunPoint], model: str) -> tuple[str, ...]:
    """Causes of the difference in a region, the largest first, means over the runs with causes."""
    explained = [run for run in runs if explains(run.reasons.get(model), run.interval.half)]
    shares: dict[str, float] = {}
    for run in explained:
        found = run.reasons[model]
        assert found is not None
        for name, time in causes(found).items():
            shares[name] = shares.get(name, 0.0) + time / run.time / len(explained)
    shares.pop(REMAINDER, None)
    largest = max(map(abs, shares.values()), default=0.0)
    worth = max(NEGLIGIBLE, NOTEWORTHY * largest)
    order = sorted(shares, key=lambda name: -abs(shares[name]))
    named = [
        f"{PHRASES[name][shares[name] > 0.0]}, {100 * shares[name]:+.0f} % of the time"
        for name in order
        if abs(shares[name]) > worth
    ]
    if any(run.overflow for run in runs):
        named.append("water over the rim before it is under")
    if any(run.plugged for run in runs):
        named.append("the meniscus plugs the hole until a push")
    return tuple(named)
