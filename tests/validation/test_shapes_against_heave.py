"""The heave model against the flow solver, bowl by bowl, narrow holes to wide ones.

Two answers of our own by different equations for the same water. The flow solver's jet contracts
as at an infinite Reynolds number, to 0.5913 of the hole (free-streamline boundary elements,
computed independently), so the heave model is given the limit of its own law there, `SHARP`, and
nothing else; in water a sharp hole lets through 4 to 12 % more under these low heads (`discharge`).
Bowls are set down gently. Means of three releases, to the rim, on the quick grid, which is 4 % slow
for the lily's 40 mm hole (0.577 s; 0.556 s on both finer grids): that row has a good one. Means of
five on three grids stand in solver/MEASURED.md.
"""

from dataclasses import replace
from statistics import fmean

import pytest

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.parts import Start
from sinkbowl.case.starter import shipped_case
from sinkbowl.reduced import MODELS
from sinkbowl.reduced.kernels.hole import SHARP
from sinkbowl.scatter import drawn
from sinkbowl.verification.flow_map import released

pytestmark = pytest.mark.slow

RELEASES = 3

ALLOWED = 0.05  # relative difference asked for


def set_down(name: str, diameter: float, answer: str) -> Case:
    """A shipped bowl set down gently, with a sharp hole of a diameter [m]."""
    case = load_case(shipped_case(name)).with_hole(diameter)
    finish = replace(case.finish, edge="sharp", discharge_coefficient=SHARP)
    flow = replace(case.flow, answer=answer)
    return replace(case, finish=finish, flow=flow, start=Start("set down", 0.0, 0.0))


@pytest.mark.parametrize(
    ("name", "hole"),
    [
        *(("steel-cup", hole) for hole in (0.02, 0.03, 0.04, 0.05, 0.06, 0.07, 0.08, 0.092)),
        *(("beech-dish-brass-ring", hole) for hole in (0.03, 0.04)),
        *(("brass-cap", hole) for hole in (0.02, 0.05)),
        *(("lily-bowl", hole) for hole in (0.03, 0.04)),
    ],
)
def test_heave_model_lies_within_five_per_cent_of_the_flow_solver(name, hole):
    """d/D from 0.17 to 0.92."""
    case = set_down(name, hole, "good" if (name, hole) == ("lily-bowl", 0.040) else "quick")
    flow = fmean(released(case, drawn(0, member)).rim for member in range(RELEASES))
    heave = MODELS["heave"](case).sinking_time
    told = f"{name}, {1e3 * hole:.0f} mm: flow {flow:.4f} s, heave {heave:.4f} s"
    print(f"\n{told}, {100 * (heave / flow - 1):+.1f} %")
    assert heave == pytest.approx(flow, rel=ALLOWED), told


@pytest.mark.parametrize(("hole", "draft"), [(0.040, 0.035), (0.070, 0.035), (0.092, 0.020)])
def test_heave_model_lies_within_five_per_cent_for_a_cup_that_is_held_and_let_go(hole, draft):
    """With its hole open and the water inside level; one release, which no water aloft scatters."""
    case = set_down("steel-cup", hole, "quick")
    case = replace(case, start=Start("held", draft=draft, inside="level"))
    flow, heave = released(case, drawn(0, 0)).rim, MODELS["heave"](case).sinking_time
    told = f"{1e3 * hole:.0f} mm: flow {flow:.4f} s, heave {heave:.4f} s"
    print(f"\n{told}, {100 * (heave / flow - 1):+.1f} %")
    assert heave == pytest.approx(flow, rel=ALLOWED), told
