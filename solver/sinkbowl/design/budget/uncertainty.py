"""Error budget of a sinking time: uncertainty, contributions, and the use of repeats.

The inputs of [uncertainty] go through a reduced model, one at a time to first order and all
together by Monte Carlo (`propagation`). The logarithm of the time is used, since it is nearly
linear. The meniscus in the hole is left out of the time and counted separately: the contact angle
decides only whether the bowl starts. Parabolas through mean density and dry freeboard decide
whether a trial floats or goes under at once.

Repeats average out inputs that change from trial to trial (temperature, timing), but not hole,
mass, radius and discharge coefficient, which stay the same for one bowl.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache, cached_property

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.corrected.correction import correction, with_coefficient
from sinkbowl.design.budget.budget import Budget, Contribution, Repeats
from sinkbowl.design.budget.propagation import (
    Distribution,
    Response,
    combined,
    distribution,
    response,
    samples,
)
from sinkbowl.design.budget.repeats import repeats_needed
from sinkbowl.design.budget.variation import inputs_of, meniscus_aside, starting_coefficient, varied
from sinkbowl.reduced import falling, heave
from sinkbowl.scatter.interval import RELEASE
from sinkbowl.statics.capillarity import hole_breakthrough_head
from sinkbowl.statics.hydrostatics import displaced_volume, mean_density, start_head

FROM_TRIAL_TO_TRIAL = ("temperature", "contact_angle", "surface_tension", "timing")
"""Inputs that change between trials of one bowl."""

FILMED = 0.05  # timing error of an event that is filmed, as a share of it
CHECKS = 2  # samples solved in full to find the error of the parabolas

DIFFERENCES = (0.01, 0.02, 0.05)
"""Differences, as shares of the sinking time, for which repeats are given by default."""

Changes = Mapping[str, float]
Steps = tuple[Changes, Changes]


class _NoTime(Exception):
    """A trial without a sinking time; the message says what happens instead."""


def error_budget(
    case: Case,
    model: str = corrected.MODEL,
    difference: float | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Budget:
    """Error budget of a case's sinking time.

    Parameters
    ----------
    case : with its uncertainties
    model : one of `sinkbowl.corrected.MODELS`
    difference : of two times, for which the repeats are computed [s]; None: `DIFFERENCES`
    progress : called with the number of inputs done and in total

    Raises
    ------
    CaseError : no such model, or the hole does not fit into the bowl within its uncertainty
    RunError : the reduced model does not end
    """
    if model not in MODELS:
        raise CaseError(
            f'There is no reduced model "{model}"', allowed=f"There are {', '.join(MODELS)}."
        )
    trials, steps = _Trials(case, model), [_steps(case, name) for name in inputs_of(case)]
    x = samples(len(steps) + 1)
    deviations, late = x[:, :-1], x[:, -1]
    margins = {name: m.at(deviations) for name, m in _margins(trials, steps).items()}
    plugged = float(np.mean(margins.pop("plugged") < 0.0)) if "plugged" in margins else None
    floating = float(np.mean(margins["floating"] < 0.0))
    under = float(np.mean(margins["under"] < 0.0)) if "under" in margins else 0.0
    try:
        time = trials.time({})
        logs = np.log(_varied_times(trials, steps, progress) / time)
    except _NoTime as reason:
        shares = (plugged, floating, under)
        return Budget(model, None, str(reason), (), None, None, None, *shares, ())
    curve = response(0.0, logs[:, 0], logs[:, 1])
    sinks = np.all([margin >= 0.0 for margin in margins.values()], axis=0)
    timing = timing_uncertainty(case, time)
    drawn = time * np.exp(curve.at(deviations[sinks])) + timing * late[sinks]
    # Half the difference by each input, (inputs,) [s].
    effects = 0.5 * time * np.diff(np.exp(logs), axis=1)[:, 0]
    contributions = _contributions(case, timing, effects)
    budget = Budget(
        model=model,
        time=time,
        outcome=trials.outcome,
        contributions=contributions,
        uncertainty=combined(np.array([c.effect for c in contributions])),
        monte_carlo=distribution(drawn[drawn > 0.0]),  # no clock shows a time below 0
        fit_miss=_fit_miss(trials, curve, deviations[sinks][:CHECKS]),
        plugged=plugged,
        floating=floating,
        under=under,
        repeats=(),
    )
    if model == corrected.MODEL and budget.monte_carlo is not None:
        budget = replace(budget, trial=_trial(case, time, budget.monte_carlo))
    asked = [part * time for part in DIFFERENCES] if difference is None else [difference]
    scatter = budget.trial_scatter
    return replace(budget, repeats=tuple(Repeats(d, repeats_needed(d, scatter)) for d in asked))


def _trial(case: Case, time: float, drawn: Distribution) -> tuple[float, float]:
    """Ends of the interval of a careful trial at 95 % [s].

    The samples include the coefficient's uncertainty.
    """
    open_hole = meniscus_aside(case)
    found = correction(open_hole, heave.solve(open_hole, beyond=False))
    rest = time * math.hypot(RELEASE, *found.parts.values())
    low, high = math.hypot(time - drawn.low, rest), math.hypot(drawn.high - time, rest)
    return max(0.0, time - low), time + high


def _varied_times(
    trials: _Trials, steps: list[Steps], progress: Callable[[int, int], None] | None
) -> FloatArray:
    """Times [s] with each input decreased and increased by its uncertainty, (inputs, 2)."""
    found = []
    for done, pair in enumerate(steps, start=1):
        found.append([trials.time(step) for step in pair])
        if progress is not None:
            progress(done, len(steps))
    return np.array(found)


def timing_uncertainty(case: Case, time: float) -> float:
    """Standard uncertainty of timing [s]: as stated, or a default by the length of the event.

    By stopwatch, or for short events by a film with frames a twentieth of the event apart (common
    practice, no source).
    """
    known = case.uncertainty
    return known.timing if "timing" in known.stated else min(known.timing, FILMED * time)


class _Trials:
    """Cases and sinking times for changes of the inputs, each computed once."""

    def __init__(self, case: Case, model: str) -> None:
        self.case, self.model = case, model
        self._case_at = cache(lambda changes: varied(case, dict(changes)))
        self._solved = cache(self._solve)

    @cached_property
    def outcome(self) -> str:
        """Outcome of the stated case, in words."""
        return MODELS[self.model](self.case, beyond=False).outcome

    def case_at(self, changes: Changes) -> Case:
        """The case with changed inputs."""
        return self._case_at(tuple(sorted(changes.items())))

    def time(self, changes: Changes) -> float:
        """Sinking time without the meniscus [s]; _NoTime if there is none.

        A change of an estimated discharge coefficient multiplies the time by the same factor as for
        a constant coefficient.
        """
        apart = ("contact_angle", "surface_tension", "discharge_coefficient")
        rest = tuple(sorted((name, d) for name, d in changes.items() if name not in apart))
        coefficient = changes.get("discharge_coefficient")
        if coefficient is None:
            return self._solved(rest, None)
        if self.case.hole.discharge_coefficient is not None:
            return self._solved(rest, coefficient)
        ratio = self._solved(rest, coefficient) / self._solved(rest, 0.0)
        return self._solved(rest, None) * ratio

    def _solve(self, changes: tuple[tuple[str, float], ...], coefficient: float | None) -> float:
        """Time with the coefficient's law (None), or with a constant one changed by an amount."""
        other = meniscus_aside(self._case_at(changes))
        if coefficient is not None:
            other = with_coefficient(other, starting_coefficient(other) + coefficient)
        sinking = MODELS[self.model](other, beyond=False)
        if not sinking.sinking_time:
            what = ", ".join(name.replace("_", " ") for name, _ in changes)
            where = f"one standard uncertainty away ({what}), it " if what else ""
            raise _NoTime(f"{where}{sinking.outcome}")
        return sinking.sinking_time


def _steps(case: Case, name: str) -> Steps:
    """Changes by minus and plus one standard uncertainty; none if it is 0."""
    u = getattr(case.uncertainty, name)
    return ({name: -u}, {name: u}) if u > 0.0 else ({}, {})


def _margins(trials: _Trials, steps: list[Steps]) -> dict[str, Response]:
    """Margins, positive if the bowl starts, sinks, and floats at first."""
    case = trials.case
    wanted: dict[str, Callable[[Case], float]] = {
        "floating": lambda one: mean_density(one) - one.water.density
    }
    if case.start.kind == "set down" and trials.model != falling.MODEL:
        wanted["plugged"] = _head_excess
    if case.start.kind not in ("drop", "held"):
        wanted["under"] = _buoyancy_excess
    below, above = ([trials.case_at(pair[i]) for pair in steps] for i in (0, 1))
    return {
        name: response(
            margin(case),
            np.array([margin(other) for other in below]),
            np.array([margin(other) for other in above]),
        )
        for name, margin in wanted.items()
    }


def _head_excess(case: Case) -> float:
    head, bowl = start_head(case), case.bowl
    if head is None:
        head = bowl.rim_height - bowl.inner_edge_height
    return head - hole_breakthrough_head(case.hole.diameter, case.water, case.contact_angle)


def _buoyancy_excess(case: Case) -> float:
    return case.water.density * displaced_volume(case, case.bowl.rim_height) - case.total_mass


def _contributions(case: Case, timing: float, effects: FloatArray) -> tuple[Contribution, ...]:
    """Case inputs with their effects (n,) [s], and timing [s]; the largest share first."""
    values = {
        "hole": case.hole.diameter,
        "mass": case.total_mass,
        "radius": case.bowl.rim_radius,
        "temperature": case.water.temperature,
        "contact_angle": case.contact_angle,
        "discharge_coefficient": starting_coefficient(case),
        "salinity": case.water.salinity,
        "surface_tension": case.water.surface_tension,
        "timing": 0.0,
    }
    known = case.uncertainty
    effect = {**dict(zip(inputs_of(case), effects.tolist(), strict=True)), "timing": timing}
    variance = sum(e**2 for e in effect.values()) or 1.0
    rows = [
        Contribution(
            name=name,
            value=value,
            uncertainty=timing if name == "timing" else getattr(known, name),
            stated=name in known.stated,
            effect=effect[name],
            share=effect[name] ** 2 / variance,
            averages_out=name in FROM_TRIAL_TO_TRIAL,
        )
        for name, value in values.items()
        if name in effect
    ]
    return tuple(sorted(rows, key=lambda row: -row.share))


def _fit_miss(trials: _Trials, curve: Response, deviations: FloatArray) -> float:
    """Largest relative error of the parabolas at deviations (k, n); infinite if none sinks."""
    names = inputs_of(trials.case)
    u = [getattr(trials.case.uncertainty, name) for name in names]
    misses = [0.0]
    for row, log_ratio in zip(deviations * u, curve.at(deviations), strict=True):
        changes = {name: d for name, d in zip(names, row.tolist(), strict=True) if d != 0.0}
        try:
            actual = trials.time(changes) / trials.time({})
        except _NoTime:
            return float("inf")
        misses.append(abs(float(np.exp(log_ratio)) / actual - 1.0))
    return max(misses)
