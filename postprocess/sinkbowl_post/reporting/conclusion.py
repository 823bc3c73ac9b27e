"""What a sweep comes to, in three sentences: the times, which model is nearest, what it lacks."""

from __future__ import annotations

from collections.abc import Sequence

from sinkbowl.reduced import MODELS
from sinkbowl.scatter.interval import told_time
from sinkbowl_post.reference_curves.breakdown import LEVELS, WITHIN, breakdown, verdict_of
from sinkbowl_post.reference_curves.points import RunPoint


def mass_words(masses: Sequence[float]) -> str:
    """The masses [kg] of bowl and ballast that were run: '200 g', '160 to 240 g'."""
    low, high = (f"{1e3 * mass:.4g}" for mass in (min(masses), max(masses)))
    return f"{low} g" if low == high else f"{low} to {high} g"


def conclusion(points: Sequence[RunPoint]) -> str:
    """Three sentences on the runs of a sweep, one at least."""
    counts = {model: _within(points, model) for model in points[0].models if model in MODELS}
    best = max(counts, key=lambda model: counts[model])
    return " ".join((_times(points), _nearest(counts, best, len(points)), _lack(points, best)))


def _times(points: Sequence[RunPoint]) -> str:
    ordered = sorted(points, key=lambda point: (point.hole, point.time))
    narrow, wide = ordered[0], ordered[-1]
    ends = [f"{1e3 * p.hole:.3g} mm: {told_time(p.time, p.interval)}" for p in (narrow, wide)]
    if narrow.hole == wide.hole:
        return f"All have one hole, {ends[0]}{'' if len(points) == 1 else f' to {ends[1]}'}."
    return f"From the narrowest hole, {ends[0]}, to the widest, {ends[1]}."


def _within(points: Sequence[RunPoint], model: str) -> int:
    """Runs at which a model is within the last of LEVELS, all over the flow's interval."""
    told = [(p.deviation(model), p.interval.half / p.time) for p in points]
    return sum(d is not None and verdict_of(d, half) == WITHIN for d, half in told)


def _nearest(counts: dict[str, int], best: str, runs: int) -> str:
    level = f"{100 * LEVELS[-1]:.0f} %"
    if counts[best] == 0:
        return f"No reduced model can be shown to be within {level} at any of {runs} runs."
    others = ", ".join(f"{model} at {n}" for model, n in counts.items() if model != best)
    return (
        f"Nearest to the flow solver is the {best} model, shown to be within {level} at "
        f"{counts[best]} of {runs} runs ({others})."
    )


def _lack(points: Sequence[RunPoint], model: str) -> str:
    """What the model lacks where it is furthest off, by the first of the region's reasons."""
    regions = [region for region in breakdown(points) if region.model == model and region.reasons]
    if not regions:
        return (
            f"What the {model} model differs by lies within the flow solver's own interval, or is "
            "too little to share out."
        )
    spans = [
        f"d/D {r.low:.2f}{f' to {r.high:.2f}' if r.high > r.low else ''}: {r.reasons[0]}"
        for r in regions[:2]
    ]
    return f"What sets the difference of {model} most is, at {'; at '.join(spans)}."
