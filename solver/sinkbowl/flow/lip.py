"""The lip of a resolved hole: cut back on the grid where the grid cannot part jet and lip.

Behind a sharp edge the jet leaves the lip: its surface starts along the base and bends up, so that
the gap beside it grows like z^(2/3) (free streamlines; Birkhoff & Zarantonello, Jets, Wakes, and
Cavities, 1957; from memory). While that gap is thinner than a cell the water in it is dragged
along, the jet fills the whole hole and far too much flows: 30 % of the jet's section with 16 cells
across a hole with a square lip of an eighth of its diameter, 13 % with 32, 3 % with 64
(`proof/orifices.py`).
Only the edge makes the jet, the lip behind it touches dead water. So as long as the hole has
fewer than `CLEAR_CELLS` cells the lip is cut back from its edge at a slope of one in two, on the
grid only, outside of the jet. The steel cup with its 20 mm hole goes under after 2.30, 2.28 s with
20, 40 cells across so, after 2.05, 2.12, 2.27 s with 20, 40, 80 and its square lip.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case

from .grid import Array

CLEAR_CELLS = 64.0
"""Cells across the hole from which on the grid parts the jet from a square lip."""

SLOPE = 0.5
"""The lip goes back by this share of its height."""

LONGEST_LIP = 0.5
"""Length over diameter up to which the jet stays clear of the lip; common practice, no source."""

MOST_OF_BASE = 0.5
"""The share of the base's width that the cut may take."""


def cut_back(case: Case, bowl: Bowl, finest: float) -> Bowl:
    """The bowl with its lip cut back where that is wanted, or the bowl as it is.

    Parameters
    ----------
    case : says what the hole's edge is
    bowl : as the grid carries it
    finest : size of the cells at the hole [m]
    """
    if case.hole.edge != "sharp" or case.base_gone or case.hole.diameter >= CLEAR_CELLS * finest:
        return bowl
    if bowl.base_thickness > LONGEST_LIP * case.hole.diameter or not _level_edge(bowl):
        return bowl
    edge = bowl.outer[0]
    for k, (a, b) in enumerate(pairwise(bowl.inner)):
        meets = _meeting(edge, a, b)
        if meets is None:
            continue
        if meets[0] - edge[0] > MOST_OF_BASE * (bowl.outer[1, 0] - edge[0]):
            return bowl
        return Bowl.from_outlines(
            bowl.outer, np.vstack((edge, meets, bowl.inner[k + 1 :])), bowl.mass
        )
    return bowl


def _level_edge(bowl: Bowl) -> bool:
    """Whether the base is level beside the hole; a wedge beside a slope leaks on the grid."""
    edge, following = bowl.outer[:2]
    return bool(following[1] == edge[1] and following[0] > edge[0])


def _meeting(edge: Array, a: Array, b: Array) -> Array | None:
    """Where the cut from the edge meets the segment from a to b of the inner outline."""
    beyond_a, beyond_b = (SLOPE * (p[1] - edge[1]) - (p[0] - edge[0]) for p in (a, b))
    if beyond_a < 0.0 or beyond_b > 0.0 or beyond_a == beyond_b:
        return None
    return np.asarray(a + beyond_a / (beyond_a - beyond_b) * (b - a))
