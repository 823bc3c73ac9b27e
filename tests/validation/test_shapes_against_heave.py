"""The heave model against the flow solver, shape by shape, with the same water.

The flow solver has no viscosity, so that its jet contracts as at an infinite Reynolds number: to
0.5913 of the hole (free-streamline boundary elements, computed independently). The heave model is
therefore given the limit of its own law there, `SHARP`, and nothing else. In water a sharp hole
lets through more, by 4 to 12 % under these low heads (`discharge`), and bowls sink so much sooner.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.parts import Start
from sinkbowl.case.shipped import shipped_case
from sinkbowl.reduced import MODELS
from sinkbowl.reduced.discharge import SHARP
from sinkbowl.running.runner import run

pytestmark = pytest.mark.slow


def without_viscosity(name: str, hole: float, cell: float) -> Case:
    """A shipped bowl set down gently, with a sharp hole and cells of given sizes [m]."""
    case = load_case(shipped_case(name)).with_hole(hole)
    return replace(
        case,
        hole=replace(case.hole, edge="sharp", discharge_coefficient=SHARP),
        flow=replace(case.flow, cell=cell),
        start=Start("set down", 0.0, 0.0),
    )


@pytest.mark.parametrize(
    ("name", "hole", "cell"),
    [
        ("steel-cup", 0.070, 1.0e-3),
        ("beech-dish-brass-ring", 0.030, 1.2e-3),
        ("brass-cap", 0.070, 1.0e-3),
    ],
)
def test_heave_model_lies_within_five_per_cent_of_the_flow_solver(
    name: str, hole: float, cell: float, tmp_path: Path
) -> None:
    """Two answers of our own by different equations, d/D from 0.25 to 0.7.

    Where the fountain falls back on the hole the model is up to 10 % quick, in the lily bowl 6 to
    29 % with every hole: DEVELOPERS.md has the table.
    """
    case = without_viscosity(name, hole, cell)
    flow = run(case, tmp_path / "run.h5").sinking_time
    heave = MODELS["heave"](case).sinking_time
    assert flow is not None
    assert heave is not None
    print(f"\n{name}: flow {flow:.4f} s, heave {heave:.4f} s, {100 * (heave / flow - 1):+.1f} %")
    assert heave == pytest.approx(flow, rel=0.05), f"heave {heave:.4f} s, flow {flow:.4f} s"
