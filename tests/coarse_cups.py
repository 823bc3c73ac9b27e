"""Cups on coarse grids, whose runs take seconds, and a callback that ends a run half way."""

from pathlib import Path

from cups import cup_text
from sinkbowl.case.case import Case, parse_case
from sinkbowl.running.runner import Progress

STEEL = cup_text(40, title="Coarse steel cup", more='[flow]\ncell = "4 mm"\nbase_cell = "2.0 mm"')

FLOW = """
[flow]
cell = "10 mm"
base_cell = "2.5 mm"
hole = "resolved"
tub_radius = "120 mm"
"""
THICK = cup_text(40, wall=10, base=10, density="{density} kg/m^3", more=FLOW)


def case_of(text: str) -> Case:
    return parse_case(text, Path(), "cup.toml")


def thick_cup(density: float, start: str = "") -> Case:
    """A cup with walls of 10 mm, a few cells wide: its runs take a second or two."""
    return case_of(THICK.format(density=density) + start)


class Interruption:
    """A progress callback that does something at a given simulated time."""

    def __init__(self, at: float, error: BaseException) -> None:
        self.at, self.error, self.step = at, error, 0

    def __call__(self, progress: Progress) -> None:
        self.step = progress.step
        if progress.t >= self.at:
            raise self.error
