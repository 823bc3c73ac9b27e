"""The heave model against the flow solver, bowl by bowl, narrow holes to wide ones.

Two answers of our own by different equations for the same water: the flow with walls that hold it,
the model with the case's own discharge coefficient, bowls set down gently, holes with a sharp edge.
Single draws on the quick grid, which scatter by 1 % to 4 % (`scatter/draws.csv`); the means of five
on three grids stand in solver/MEASURED.md. Rows beyond the 5 % asked are marked, with why.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.parts import Start
from sinkbowl.case.shipped import shipped_case
from sinkbowl.reduced import MODELS
from sinkbowl.running.runner import run

pytestmark = pytest.mark.slow

ALLOWED = 0.05
"""Relative difference asked for."""


def short(reason: str) -> pytest.MarkDecorator:
    """A row that is known to lie outside; it fails the test again once the model is mended."""
    return pytest.mark.xfail(reason=reason, strict=True, raises=AssertionError)


FOUNTAIN = "the fountain falls back on the hole and the model does not know"


def set_down(name: str, hole: float) -> Case:
    """A shipped bowl set down gently, with a sharp hole of a diameter [m]."""
    case = load_case(shipped_case(name)).with_hole(hole)
    return replace(case, hole=replace(case.hole, edge="sharp"), start=Start("set down", 0.0, 0.0))


@pytest.mark.parametrize(
    ("name", "hole"),
    [
        ("steel-cup", 0.020),
        ("steel-cup", 0.030),
        ("steel-cup", 0.040),
        pytest.param("steel-cup", 0.050, marks=short(FOUNTAIN)),
        pytest.param("steel-cup", 0.060, marks=short(FOUNTAIN)),
        ("steel-cup", 0.070),
        ("steel-cup", 0.080),
        ("steel-cup", 0.092),
        ("beech-dish-brass-ring", 0.030),
        ("beech-dish-brass-ring", 0.040),
        ("brass-cap", 0.020),
        ("brass-cap", 0.050),
        ("lily-bowl", 0.030),
        pytest.param("lily-bowl", 0.040, marks=short(FOUNTAIN)),
    ],
)
def test_heave_model_lies_within_five_per_cent_of_the_flow_solver(
    name: str, hole: float, tmp_path: Path
) -> None:
    """d/D from 0.17 to 0.92."""
    case = set_down(name, hole)
    flow = run(case, tmp_path / "run.h5").sinking_time
    heave = MODELS["heave"](case).sinking_time
    assert flow is not None
    assert heave is not None
    told = f"{name}, {1e3 * hole:.0f} mm: flow {flow:.4f} s, heave {heave:.4f} s"
    print(f"\n{told}, {100 * (heave / flow - 1):+.1f} %")
    assert heave == pytest.approx(flow, rel=ALLOWED), told
