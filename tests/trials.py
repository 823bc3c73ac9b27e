"""Trials made up from the closed form of an upright cup's quasi-static filling, for tests of fits.

Hole, then bowl: the head falls in proportion to the rise, and with the outer area A_o, the wetted
area A (that of the hole, then that of the inside) and the coefficient C

    t = 2 A (sqrt(head_0) - sqrt(head_1)) / ((1 - A / A_o) C a sqrt(2 g)),

the closed form of the quasi-static model (textbook: Torricelli and Archimedes).
"""

import math
from collections.abc import Sequence
from pathlib import Path

from cups import cup_text
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common import GRAVITY
from sinkbowl_post.measured.measured import PLUGGED, SINKS, Trial, Trials

RADIUS, HEIGHT, WALL, BASE, MASS = 0.050, 0.060, 0.002, 0.002, 0.200
DENSITY = 998.2072

STEP_SHARE = """
[uncertainty]
hole = "0 mm"
mass = "0 g"
radius = "0 mm"
timing = "0.1 s"
"""
CASE_TEXT = cup_text(8, title="Cup for trials", more=STEP_SHARE)


def cup_case(**changes: str) -> Case:
    """The cup; keyword arguments replace quantities of [uncertainty] or, by ``hole_``, its hole."""
    text = CASE_TEXT
    for name, value in changes.items():
        key = "diameter" if name == "hole_" else name
        old = next(line for line in text.splitlines() if line.startswith(f"{key} = "))
        text = text.replace(old, f'{key} = "{value}"')
    return parse_case(text, Path(), "cup.toml")


def sinking_time(coefficient: float, hole: float, mass: float = MASS) -> float:
    """Time from release until the rim is under [s], closed form."""
    outer, inner = math.pi * RADIUS**2, math.pi * (RADIUS - WALL) ** 2
    area = math.pi * hole**2 / 4
    dry = mass / (DENSITY * outer)
    wet = dry - BASE * (1 - area / outer)  # head when the hole is full
    level = (HEIGHT - dry - BASE * area / outer) * outer / inner  # inner, when the rim is under
    last = wet - level * (1 - inner / outer)
    jet = coefficient * area * math.sqrt(2 * GRAVITY)
    first = 2 * area * (math.sqrt(dry) - math.sqrt(wet)) / ((1 - area / outer) * jet)
    return first + 2 * inner * (math.sqrt(wet) - math.sqrt(last)) / ((1 - inner / outer) * jet)


def trials_of(
    holes: Sequence[float],
    times: Sequence[float | None],
    timing: float | None = 0.1,
    hole_uncertainty: float | None = None,
) -> Trials:
    """Table of trials, rows 2, 3 ...; no time: plugged."""
    rows = [
        Trial(
            2 + k,
            hole,
            None,
            time,
            hole_uncertainty,
            None,
            timing if time else None,
            SINKS if time else PLUGGED,
        )
        for k, (hole, time) in enumerate(zip(holes, times, strict=True))
    ]
    return Trials(Path("trials.csv"), tuple(rows))
