"""The lip of a hole on the grid: cut back behind a sharp edge, else left as it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.shipped import shipped_case
from sinkbowl.flow.lip import CLEAR_CELLS, LONGEST_LIP, SLOPE, cut_back


def cup(hole: float = 0.020, **changes: str) -> Case:
    case = load_case(shipped_case("steel-cup")).with_hole(hole)
    return replace(case, hole=replace(case.hole, **changes))


def carried(case: Case, cells: float = 20.0) -> np.ndarray:
    return cut_back(case, case.bowl, case.hole.diameter / cells).polygon


def test_a_sharp_edge_stays_and_the_lip_goes_back_behind_it() -> None:
    """Design rule: the edge on the outer side, the cut's end on the inner base."""
    case = cup()
    bowl = cut_back(case, case.bowl, 1e-3)
    assert bowl.inner[0] == pytest.approx([0.010, 0.0])
    assert bowl.inner[1] == pytest.approx([0.010 + SLOPE * 0.002, 0.002])
    assert np.array_equal(bowl.outer, case.bowl.outer)
    assert np.array_equal(bowl.inner[2:], case.bowl.inner[1:])
    cone = np.pi * 0.002 * (0.010**2 + 0.010 * 0.011 + 0.011**2) / 3.0  # frustum, textbook
    added = cone - np.pi * 0.010**2 * 0.002
    assert bowl.inner_capacity - case.bowl.inner_capacity == pytest.approx(added, rel=1e-9)


@pytest.mark.parametrize(
    ("case", "cells"),
    [
        (cup(edge="rounded"), 20.0),
        (cup(), CLEAR_CELLS),
        (cup(0.9 * 0.002 / LONGEST_LIP), 20.0),
        (cup(0.0955), 20.0),
        (load_case(shipped_case("open-ring")), 20.0),
        (load_case(shipped_case("brass-cap")).with_hole(0.020), 20.0),
    ],
    ids=["rounded", "fine grid", "long lip", "next to the wall", "base gone", "curved base"],
)
def test_other_lips_are_left_alone(case: Case, cells: float) -> None:
    """Where the jet is clear of the lip anyway, or follows it, or there is no room."""
    assert np.array_equal(carried(case, cells), case.bowl.polygon)
