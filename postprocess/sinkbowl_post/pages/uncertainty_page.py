"""The text of ``sinkbowl check --uncertainty``: uncertainty of a time and contributions."""

import math

from sinkbowl.common import ZERO_CELSIUS
from sinkbowl.common.shown import percent, seconds
from sinkbowl.design.budget.budget import Budget, Contribution, trial_words
from sinkbowl.design.budget.propagation import TRIALS
from sinkbowl.design.budget.repeats import LEVEL, POWER

NAMES = {
    "hole": ("hole", 1e3, "mm"),
    "mass": ("mass", 1e3, "g"),
    "radius": ("radius", 1e3, "mm"),
    "temperature": ("temperature", 1.0, "K"),
    "contact_angle": ("contact angle", math.degrees(1.0), "deg"),
    "salinity": ("salinity", 1e3, "g/kg"),
    "surface_tension": ("surface tension", 1e3, "mN/m"),
    "discharge_coefficient": ("discharge coefficient", 1.0, ""),
    "timing": ("timing", 1.0, "s"),
}
"""Name, factor and unit of each input."""

POOR_FIT = 0.1  # error of the fit over the relative uncertainty from which there is a warning


def uncertainty_page(budget: Budget) -> str:
    """Set an error budget as a page of text."""
    time, u, shares = budget.time, budget.uncertainty, _shares(budget)
    if time is None or u is None:
        return "\n".join([f"No time by the {budget.model} model:", f"  {budget.outcome}.", *shares])
    lines = [*_trial(budget), _headline(budget, time, u), *_monte_carlo(budget, u / time), *shares]
    lines += ["", "Contributions to the uncertainty:"]
    lines += [_contribution(one) for one in budget.contributions]
    default = "  * default value, not given in [uncertainty] of the case"
    return "\n".join([*lines, default, "", *_repeats(budget, time)])


def _trial(budget: Budget) -> list[str]:
    """Interval of a careful trial; empty for models other than the corrected one."""
    if budget.trial is None:
        return []
    phrase = trial_words(budget.trial)
    return [f"  {'a careful trial of yours':<26}{phrase} (95 %: tolerances, timing, release)"]


def _headline(budget: Budget, time: float, u: float) -> str:
    words = (
        f"Time until the rim is under, {budget.model} model: {seconds(time)}, inputs' "
        f"standard uncertainty {_brief(u)} ({_percent(u / time)})."
    )
    if budget.outcome.startswith("plugged"):
        words += f"\n  Time after a start; as described it is {budget.outcome}."
    return words


def _monte_carlo(budget: Budget, relative: float) -> list[str]:
    """The Monte Carlo line, and a warning if its fit is poor."""
    drawn, miss = budget.monte_carlo, budget.fit_miss
    if drawn is None or miss is None:
        return []
    lines = [
        f"  95 % of {TRIALS} simulated trials: {_brief(drawn.low)} to "
        f"{_brief(drawn.high)}, standard deviation {_brief(drawn.deviation)}."
    ]
    if not miss <= POOR_FIT * relative:
        off = "where it should sink it does not" if math.isinf(miss) else f"{_percent(miss)} off"
        lines.append(
            f"  The time is not smooth here ({off}): the simulated trials are only a hint."
        )
    return lines


def _shares(budget: Budget) -> list[str]:
    """Trials without a time, if any."""
    found = (
        (budget.plugged or 0.0, "stay plugged by surface tension, unless pushed"),
        (budget.floating, "stop part-sunk"),
        (budget.under, "go under at once, too heavy to float"),
    )
    return [f"  {_percent(share)} of the trials {what}." for share, what in found if share > 0.0]


def _contribution(one: Contribution) -> str:
    """One input: value, uncertainty, contribution, share."""
    name, factor, unit = NAMES[one.name]
    shown = f"\u00b1 {one.uncertainty * factor:.2g} {unit}".rstrip()
    if one.name == "temperature":
        shown = f"{one.value - ZERO_CELSIUS:.4g} \u00b0C {shown}"
    elif one.name != "timing":
        shown = f"{one.value * factor:.4g} {shown}"
    mark = "" if one.stated else "*"
    if one.name in ("contact_angle", "surface_tension"):
        effect = "affects only the start"
    else:
        effect = f"{_brief(one.effect, signed=True):<12}{_percent(one.share)}"
    return f"  {name:<24}{shown + mark:<22}{effect}"


def _repeats(budget: Budget, time: float) -> list[str]:
    """Trials that show a difference, and the limit of repeats."""
    lines = [
        f"Trials of each of two bowls that show a difference (scatter "
        f"{_brief(budget.trial_scatter)}, two-sided t test, level {LEVEL:.0%}, power "
        f"{POWER:.0%}):".replace("%", " %")
    ]
    for row in budget.repeats:
        shown = f"{_brief(row.difference)} ({_percent(row.difference / time)})"
        lines.append(f"  {shown:<26}{row.trials}")
    salt = ", salinity" if any(one.name == "salinity" for one in budget.contributions) else ""
    return [
        *lines,
        f"Repeats do not average out hole, mass, radius{salt} and discharge coefficient: "
        f"{_brief(budget.systematic)}.",
    ]


def _brief(time: float, signed: bool = False) -> str:
    """A time [s], of either sign, to three figures in a suitable unit."""
    sign = "-" if time < 0.0 else "+" if signed else ""
    return f"{sign}{seconds(abs(time))}"


def _percent(share: float) -> str:
    """A share in per cent, small ones not as 0."""
    if 0.0 < share < 0.001:
        return "< 0.1 %"
    return percent(share)
