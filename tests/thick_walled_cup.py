"""A cup with walls of some cells, as tests of the unresolved hole drill it."""

from cups import cup
from sinkbowl.case.case import Case


def thick_walled_cup(hole: str, cell: str, more: str = "") -> Case:
    """The cup with a hole, cells of a size, and more lines for [flow]."""
    flow = f'discharge_coefficient = 0.61\n[flow]\ncell = "{cell}"\nbase_cell = "{cell}"\n{more}'
    return cup(hole, wall=4, base=4, more=flow)
