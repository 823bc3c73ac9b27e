"""A check as a page of text."""

from collections.abc import Mapping
from typing import Any

from sinkbowl.common.shown import seconds
from sinkbowl.common.sinking import SENSITIVE, Best

VERDICTS = {
    "sinks": "SINKS and starts by itself.",
    "floats": "FLOATS: too light to go under. It stops part-sunk.",
    "plugged": "PLUGGED: surface tension keeps water out of the hole. A push or a wider hole "
    "starts the flow.",
    "tips": "TIPS: it heels more and more while it fills, until its rim dips. ",
}

AT_ONCE = "TIPS: it falls over when it is set down empty. "

STEADIER = 'It needs ballast low down: `sinkbowl size --upright "1 mm"` sizes a ring.'

HEELS = "SINKS and starts by itself, but heels while it fills."

VISIBLE_HEEL = 1.0  # heel [deg] below which the heel of a bowl is not visible
LITTLE = 0.01  # relative change of the time by heeling below which no second time is given

OPENED = (
    "SINKS: the push or drop starts the flow. Set down gently, surface tension would keep the "
    "hole shut."
)

MODELS = {
    "quasi-static": "quasi-static, small hole",
    "heave": "heave, with inertia",
    "falling": "falling, base gone",
}


def verdict_words(figures: Mapping[str, Any]) -> str:
    """The verdict of ``CheckResult.as_dict()`` in words."""
    verdict, plugged = figures["verdict"], figures["push_impulse_N_s"] is not None
    if verdict == "tips":
        return (AT_ONCE if figures["tips_when_set_down"] else VERDICTS[verdict]) + STEADIER
    if verdict == "sinks" and plugged:
        return OPENED
    heels = (figures["greatest_heel_deg"] or 0.0) >= VISIBLE_HEEL
    return HEELS if verdict == "sinks" and heels else VERDICTS[verdict]


def check_page(figures: Mapping[str, Any]) -> str:
    """A check as a page of text.

    figures : as ``CheckResult.as_dict()`` gives them, SI
    """
    lines = [figures["title"], verdict_words(figures), *_remarks(figures), ""]
    lines += [f"  {name:<28}{value}" for name, value in _rows(figures)]
    kept = ", if it is kept upright" if figures["verdict"] == "tips" else ""
    lines += ["", f"Time until the rim is under{kept}:"]
    best = figures["best"]
    lines += best_lines(best)
    lines += [_model(name, model, best) for name, model in figures["reduced"].items()]
    return "\n".join(lines)


def _remarks(figures: Mapping[str, Any]) -> list[str]:
    """Remarks beyond the verdict."""
    remarks = [figures["question"]] if figures["question"] else []
    if figures["missing_ballast_kg"] > 0:
        remarks.append(f"It needs {_number(figures['missing_ballast_kg'], 1e3, 'g')} more ballast.")
    upright = figures["min_metacentric_height_m"]
    if figures["verdict"] != "tips" and upright is not None and upright < 0:
        remarks.append(_greatest_heel(figures))
    remarks += heel_words(figures)
    remarks += [figures[key] for key in ("water_effect", "hole_words") if figures[key]]
    if figures["filling_time_s"] is not None:
        remarks.append(f"It {figures['pace']}.")
    return remarks


def heel_words(figures: Mapping[str, Any]) -> list[str]:
    """How heeling changes the time, in a sentence; empty for a bowl that stays upright."""
    after, best = figures["heeled_time_s"]["corrected"], figures["best"]
    if not after:
        return []
    upright = "" if best is None else f" instead of {seconds(best['time_s'])} upright"
    phrase = f"the lowest point of its rim is under after {seconds(after)}{upright}, by statics"
    if figures["flooding"] is not None:
        heel = figures["flooding"]["flooding_heel_deg"]
        return [f"Heeled by {heel:.0f} deg, {phrase}: one side of the rim is lower."]
    if best is not None and abs(after / best["time_s"] - 1.0) < LITTLE:
        return ["Heeling changes the time until its rim is under by less than 1 %, by statics."]
    why = "the heel reduces the head over the hole"
    if best is not None and after < best["time_s"]:
        why = "one side of the rim is lower"
    return [f"Heeled, {phrase}: {why}."]


def _greatest_heel(figures: Mapping[str, Any]) -> str:
    """How far a bowl heels that does not tip."""
    heel = figures["greatest_heel_deg"]
    if heel is None:
        return f"It heels while it fills, most {_at_level(figures['inner_level_at_min_m'])}."
    if heel < VISIBLE_HEEL:
        return "It heels by less than a degree while it fills."
    place = _at_level(figures["inner_level_at_greatest_heel_m"])
    phrase = f"It heels while it fills, most {place}, by {heel:.0f} deg"
    return (
        f"{phrase}."
        if figures["time_to_heel"]
        else f"{phrase}, or less: it fills too fast for that."
    )


def _at_level(level: float) -> str:
    return (
        "when it is empty" if level < 0.0 else f"at an inner level of {_number(level, 1e3, 'mm')}"
    )


def _rows(figures: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Name and value of each line of the page, without empty ones."""

    def value(key: str, scale: float, unit: str, otherwise: str = "") -> str:
        given = figures[key]
        return otherwise if given is None else _number(given, scale, unit)

    push = figures["push_impulse_N_s"]
    rows = [
        ("mass, bowl and ballast", value("mass_kg", 1e3, "g")),
        ("mean density", value("mean_density_kg_m3", 1, "kg/m\u00b3")),
        ("draft, set down empty", value("dry_draft_m", 1e3, "mm", "none: it goes under at once")),
        ("draft at rest, part-sunk", value("final_draft_m", 1e3, "mm")),
        ("head over the hole, empty", value("head_m", 1e3, "mm")),
        ("head to start the flow", value("breakthrough_head_m", 1e3, "mm")),
        ("push to start the flow", "none needed" if push is None else f"{push:.2g} N s"),
        ("minimum metacentric height", value("min_metacentric_height_m", 1e3, "mm")),
        ("discharge coefficient", value("discharge_coefficient", 1, "")),
    ]
    return [(name, text) for name, text in rows if text]


def _number(value: float, scale: float, unit: str) -> str:
    shown = value * scale
    return f"{shown:.0f} {unit}" if abs(shown) >= 1000 else f"{shown:.3g} {unit}".rstrip()


def best_lines(best: Mapping[str, Any] | None) -> list[str]:
    """Best time with its interval, the parts of that, and whether it is sensitive."""
    if best is None:
        return []
    answer = Best(best["time_s"], best["parts"], best["sensitive"], best["model"])
    lines = [
        f"  {'this bowl as described':<28}{answer}  ({answer.model})",
        f"  {'':<28}\u00b1 at 95 %: {answer.made_of}",
    ]
    return [*lines, f"  {SENSITIVE}"] if answer.sensitive else lines


def _model(name: str, model: Mapping[str, Any], best: Mapping[str, Any] | None) -> str:
    """A model's time, its ratio to the best one and whether it is inside; or its outcome."""
    time = model["sinking_time_s"]
    if time is None or best is None:
        return f"  {MODELS[name]:<28}{model['outcome']}"
    low, high = best["interval_s"]
    holds = "within" if low <= time <= high else "outside"
    phrase = f"{seconds(time, high)}, {time / best['time_s']:.3f} of that, {holds} the interval"
    return f"  {MODELS[name]:<28}{phrase}"
