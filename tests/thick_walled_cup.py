"""A cup with walls of some cells, as tests of the closed hole drill it."""

from pathlib import Path

from sinkbowl.case.case import Case, parse_case

CUP = """
[bowl]
shape = "cup"
radius = "50 mm"
height = "60 mm"
wall = "4 mm"
base = "4 mm"
mass = "200 g"
[hole]
diameter = "{hole}"
discharge_coefficient = 0.61
[flow]
cell = "{cell}"
base_cell = "{cell}"
{more}
"""


def thick_walled_cup(hole: str, cell: str, more: str = "") -> Case:
    """The cup with a hole, cells of a size, and more lines for [flow]."""
    return parse_case(CUP.format(hole=hole, cell=cell, more=more), Path(), "cup.toml")
