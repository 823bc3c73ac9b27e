"""Cups on coarse grids, whose runs take seconds, and a callback that ends a run half way."""

from __future__ import annotations

from pathlib import Path

from sinkbowl.case.case import Case, parse_case
from sinkbowl.running.progress import Progress

STEEL = """
title = "Coarse steel cup"
[bowl]
shape = "cup"
radius = "50 mm"
height = "60 mm"
wall = "2 mm"
base = "2 mm"
mass = "200 g"
[hole]
diameter = "40 mm"
[flow]
cell = "4 mm"
base_cell = "4 mm"
"""

THICK = """
[bowl]
shape = "cup"
radius = "50 mm"
height = "60 mm"
wall = "10 mm"
base = "10 mm"
density = "{density} kg/m^3"
[hole]
diameter = "40 mm"
[flow]
cell = "10 mm"
base_cell = "10 mm"
hole = "resolved"
tub_radius = "120 mm"
"""


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
