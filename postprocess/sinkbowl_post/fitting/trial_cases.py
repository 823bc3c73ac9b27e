"""The case of each trial, with its hole, mass and uncertainties."""

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.budget.variation import varied
from sinkbowl.statics.hydrostatics import dry_draft, floats, mean_density
from sinkbowl_post.measured.mean_time import known_timing, refuse_odd_time
from sinkbowl_post.measured.measured import FAILED, FLOATS, PLUGGED, SINKS, TIPS, Trial, Trials

MOST_SETUPS = 60  # maximum number of holes and masses per table: each is solved many times

DID = {PLUGGED: "stayed plugged", FLOATS: "stayed afloat", TIPS: "fell over"}


class Setup(NamedTuple):
    """Settings of a trial: diameter of the hole [m], mass of bowl and ballast [kg] or None."""

    hole: float
    mass: float | None


@dataclass(frozen=True, eq=False)
class TrialCase:
    """One trial with its case.

    trial : as measured
    setup : its settings; trials with equal ones share a case
    case : with the trial's hole and mass
    hole_uncertainty, mass_uncertainty : standard uncertainties [m], [kg]
    """

    trial: Trial
    setup: Setup
    case: Case
    hole_uncertainty: float
    mass_uncertainty: float


def trial_cases(case: Case, trials: Trials) -> tuple[TrialCase, ...]:
    """Cases of all trials.

    Raises CaseError if a hole or mass does not fit the bowl, a trial sank that cannot sink by the
    case, the uncertainty of its time is missing, or there are too many setups.
    """
    setups = {Setup(trial.hole or case.hole.diameter, trial.mass) for trial in trials.trials}
    if len(setups) > MOST_SETUPS:
        raise CaseError(
            f"Has {len(setups)} different holes and masses",
            file=trials.path,
            allowed=f"At most {MOST_SETUPS} are taken at once: split the table, or write one mass "
            "for one bowl.",
        )
    known: dict[Setup, Case] = {}
    found = []
    for trial in trials.trials:
        setup = Setup(trial.hole or case.hole.diameter, trial.mass)
        if setup not in known:
            known[setup] = _case(case, setup, trials.path, trial.place)
        own = known[setup]
        u, timing = own.uncertainty, known_timing(trial, own)
        if trial.time is not None and not timing > 0.0:
            raise CaseError(
                f"{trial.place} has no uncertainty of its time, and uncertainty.timing is 0",
                file=trials.path,
                allowed="Add a column time_uncertainty [s].",
            )
        _check(own, trials.path, trial)
        refuse_odd_time(own, trial, trials.path)
        of_hole, of_mass = trial.hole_uncertainty, trial.mass_uncertainty
        found.append(
            TrialCase(
                trial,
                setup,
                own,
                u.hole if of_hole is None else of_hole,
                u.mass if of_mass is None else of_mass,
            )
        )
    return tuple(found)


def _case(case: Case, setup: Setup, path: Path, place: str) -> Case:
    """The case with another hole and, if weighed, another mass of the bowl."""
    named = case.path or case.title
    try:
        drilled = case if setup.hole == case.hole.diameter else case.with_hole(setup.hole)
    except CaseError as error:
        raise CaseError(
            f"does not fit the bowl of {named}",
            file=path,
            key=f"{place}, hole",
            given=f"{setup.hole * 1e3:.4g} mm",
            allowed=error.allowed,
        ) from None
    if setup.mass is None:
        return drilled
    ring = drilled.ballast.mass
    if setup.mass <= ring:
        raise CaseError(
            f"is no more than the ballast of {named} alone ({ring * 1e3:.4g} g)",
            file=path,
            key=f"{place}, mass",
            given=f"{setup.mass * 1e3:.4g} g",
            allowed="Write what bowl and ballast weigh together.",
        )
    return varied(drilled, {"mass": setup.mass - drilled.total_mass})


def _check(case: Case, path: Path, trial: Trial) -> None:
    """Refuse a trial that is impossible by the case."""
    if trial.outcome == FAILED:
        return
    if dry_draft(case) is None and case.start.kind not in ("drop", "held"):
        text = "it is too heavy to float even when dry, and goes under at once"
    elif trial.outcome == SINKS and floats(case):
        text = f"it floats ({mean_density(case):.0f} kg/m³ on average)"
    else:
        return
    did = f"sank after {trial.time:.3g} s" if trial.time is not None else DID[trial.outcome]
    raise CaseError(
        f"{trial.place} says that it {did}, but by the case {text}",
        file=path,
        allowed="Check the row's mass, and the bowl in the case file.",
    )
