"""The text of ``sinkbowl check --uncertainty``: how far off a time can be, and by what."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from sinkbowl.common.constants import ZERO_CELSIUS
from sinkbowl.common.shown import percent, seconds
from sinkbowl.design.budget.budget import trial_words

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
"""Name, factor and unit with which each input is shown."""

POOR_FIT = 0.1
"""Miss of the fit, over the relative uncertainty, from which a warning is due."""


def uncertainty_page(figures: Mapping[str, Any]) -> str:
    """Set the figures of an error budget as a page of text.

    Parameters
    ----------
    figures : as ``Budget.as_dict()`` gives them, SI
    """
    shares = _shares(figures)
    if figures["sinking_time_s"] is None:
        title = f"No time by the {figures['model']} model:"
        return "\n".join([title, f"  {figures['outcome']}.", *shares])
    lines = [*_trial(figures), _headline(figures), *_monte_carlo(figures), *shares]
    lines += ["", "Contributions to the uncertainty:"]
    lines += [_contribution(row) for row in figures["contributions"]]
    lines += ["  * default value, not given in [uncertainty] of the case", "", *_repeats(figures)]
    return "\n".join(lines)


def _trial(figures: Mapping[str, Any]) -> list[str]:
    """Where a careful trial falls; nothing for another model than the corrected one."""
    trial = figures["trial"]
    if trial is None:
        return []
    told = trial_words(trial["interval_s"])
    return [f"  {'a careful trial of yours':<26}{told} (95 %: tolerances, timing, release)"]


def _headline(figures: Mapping[str, Any]) -> str:
    time, u = figures["sinking_time_s"], figures["standard_uncertainty_s"]
    words = (
        f"Time until the rim is under, {figures['model']} model: {seconds(time)}, inputs' "
        f"standard uncertainty {_brief(u)} ({_percent(u / time)})."
    )
    if figures["outcome"].startswith("plugged"):
        words += f"\n  Time after a start; as described it is {figures['outcome']}."
    return words


def _monte_carlo(figures: Mapping[str, Any]) -> list[str]:
    """The Monte Carlo line, and a warning where the fit that it draws from is poor."""
    drawn, miss = figures["monte_carlo"], figures["fit_miss"]
    lines = [
        f"  95 % of {drawn['trials']} simulated trials: {_brief(drawn['low_s'])} to "
        f"{_brief(drawn['high_s'])}, standard deviation {_brief(drawn['standard_deviation_s'])}."
    ]
    relative = figures["standard_uncertainty_s"] / figures["sinking_time_s"]
    if not miss <= POOR_FIT * relative:
        off = "where it should sink it does not" if math.isinf(miss) else f"{_percent(miss)} off"
        lines.append(
            f"  The time is not smooth here ({off}): the simulated trials are only a hint."
        )
    return lines


def _shares(figures: Mapping[str, Any]) -> list[str]:
    """Trials that have no time; nothing where there are none."""
    words = {
        "share_plugged": "stay plugged by surface tension, unless pushed",
        "share_floating": "stop part-sunk",
        "share_under_at_once": "go under at once, too heavy to float",
    }
    found = [(figures[key] or 0.0, what) for key, what in words.items()]
    return [f"  {_percent(share)} of the trials {what}." for share, what in found if share > 0.0]


def _contribution(row: Mapping[str, Any]) -> str:
    """One input: value and uncertainty, what it does to the time, its share."""
    name, factor, unit = NAMES[row["name"]]
    shown = f"\u00b1 {row['standard_uncertainty'] * factor:.2g} {unit}".rstrip()
    if row["name"] == "temperature":
        shown = f"{row['value'] - ZERO_CELSIUS:.4g} \u00b0C {shown}"
    elif row["name"] != "timing":
        shown = f"{row['value'] * factor:.4g} {shown}"
    mark = "" if row["stated"] else "*"
    if row["name"] in ("contact_angle", "surface_tension"):
        effect = "affects only the start"
    else:
        effect = f"{_brief(row['effect_s'], signed=True):<12}{_percent(row['share_of_variance'])}"
    return f"  {name:<24}{shown + mark:<22}{effect}"


def _repeats(figures: Mapping[str, Any]) -> list[str]:
    """Trials that show a difference, and what no number of them shows."""
    level, power = figures["repeats_level"], figures["repeats_power"]
    lines = [
        f"Trials of each of two bowls that show a difference (scatter "
        f"{_brief(figures['trial_scatter_s'])}, two-sided t test, level {level:.0%}, power "
        f"{power:.0%}):".replace("%", " %")
    ]
    for row in figures["repeats"]:
        share = row["difference_s"] / figures["sinking_time_s"]
        shown = f"{_brief(row['difference_s'])} ({_percent(share)})"
        lines.append(f"  {shown:<26}{row['trials']}")
    salt = ", salinity" if any(c["name"] == "salinity" for c in figures["contributions"]) else ""
    return [
        *lines,
        f"Repeats do not average out hole, mass, radius{salt} and discharge coefficient: "
        f"{_brief(figures['lasting_uncertainty_s'])}.",
    ]


def _brief(time: float, signed: bool = False) -> str:
    """A time [s], of either sign, to three figures in the unit that suits it."""
    sign = "-" if time < 0.0 else "+" if signed else ""
    return f"{sign}{seconds(abs(time))}"


def _percent(share: float) -> str:
    """A share in per cent, small ones not as nothing."""
    if 0.0 < share < 0.001:
        return "< 0.1 %"
    return percent(share)
