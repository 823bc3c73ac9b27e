"""Modified models: histories made by a model with one term changed give that term back."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import cumulative_simpson

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.common import GRAVITY
from sinkbowl.reduced import MODELS
from sinkbowl.reduced.attribution import attribute as attributing
from sinkbowl.reduced.attribution.attribute import Reasons, attribute, shares_of_causes
from sinkbowl.reduced.attribution.flow_course import FlowCourse, Record
from sinkbowl.reduced.attribution.modified_models import ModifiedHeave, head_needed
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.kernels import heave as terms
from sinkbowl.reduced.kernels.bowl import BOWL, CROSS, DRAG, HOLE, WAVES, Bowl
from sinkbowl.reduced.kernels.hole import CONSTANT, RESISTANCE
from sinkbowl.reduced.kernels.integration import RIM_UNDER, ROW_LEVEL, TIME
from sinkbowl.reduced.kernels.rosenbrock import HEAVE
from sinkbowl.reduced.legs import integrate, terms_along
from sinkbowl.reduced.tables import tabulate

CLOSED = 0.1  # share of the difference within which the contributions must add up

Change = Callable[[Bowl], Bowl]


@pytest.fixture(scope="module")
def cup() -> Case:
    return load_case(shipped_case("steel-cup")).with_hole(0.060)


def as_it_is(bowl: Bowl) -> Bowl:
    return bowl


def record(case: Case, change: Change = as_it_is, with_readings: bool = True) -> Record:
    """A history of the heave model, changed or not, with what the flow's history has."""
    tables = tabulate(case)
    bowl = change(tables.bowl)
    rows = integrate(HEAVE, bowl, first_state(tables), False, steps=600).rows
    t, course = rows[:, TIME], rows[:, 1 : 1 + terms.STATE]
    told = terms_along(bowl, t, course).T
    speed, flow, water, rho = course[:, 1], course[:, 3], course[:, 2], bowl.density
    matrix = np.array(
        [[told[terms.M_BOWL], -told[terms.ON_BOWL]], [-told[terms.ON_HOLE], told[terms.M_HOLE]]]
    )
    loads = np.array([told[terms.FORCE], told[terms.PRESSURE]]).T[:, :, None]
    rise, gain = np.linalg.solve(matrix.transpose(2, 0, 1), loads)[:, :, 0].T
    foot = told[terms.BACK] - told[terms.BY_SPEED] * rise + told[terms.BY_FLOW] * gain
    air = told[terms.TERMS :]
    grows = rho * gain * (told[terms.POOL] - bowl.outer_edge)
    grows += rho * flow * (told[terms.RISE] + told[terms.LEAVES])
    grows += air[terms.FORCE_DOWN] - air[terms.ALOFT] * (GRAVITY - rise)
    grows += np.interp(rows[:, ROW_LEVEL], bowl.residuals[:, 0], bowl.residuals[:, 1])
    momentum = cumulative_simpson(grows, x=t, initial=0.0) - rho * water * speed
    thrust = rho * flow * told[terms.JET] + bowl.hole_area * foot
    readings = {
        "inner_momentum": momentum,
        "hole_thrust": thrust,
        "foot_pressure": foot,
        "aloft_volume": np.zeros(len(t)),
    }
    return Record(
        t,
        course[:, 0],
        rows[:, ROW_LEVEL] - bowl.inner_edge,
        float(t[-1]),
        math.inf,
        readings if with_readings else {},
    )


def times(case: Case) -> dict[str, float | None]:
    return {"heave": MODELS["heave"](case).sinking_time}


def changed(case: Case, change: Change, with_readings: bool = True) -> Reasons:
    """Reasons of the heave model against a history of the changed one."""
    return reasons(case, record(case, change, with_readings))


def reasons(case: Case, other: Record) -> Reasons:
    found = attribute(case, other, times(case))["heave"]
    print(found)
    assert found.hole + found.forces + found.remainder == pytest.approx(found.total, abs=1e-12)
    assert sum(found.terms.values()) + found.rest == pytest.approx(found.forces, abs=1e-12)
    assert sum(found.hole_terms.values()) == pytest.approx(found.hole, abs=1e-12)
    assert abs(found.remainder) < CLOSED * abs(found.total)
    return found


def times_columns(factor: float, *columns: int) -> Change:
    """The outer water's table with some columns times a factor."""

    def change(bowl: Bowl) -> Bowl:
        sea = bowl.sea.copy()
        sea[:, list(columns)] *= factor
        return bowl._replace(sea=sea)

    return change


more_drag, more_waves = times_columns(3.0, DRAG), times_columns(4.0, WAVES)


def pushed_down(bowl: Bowl) -> Bowl:
    """A tenth of the bowl's weight more, from a tenth of its height on."""
    force = 0.1 * bowl.mass * GRAVITY
    residuals = np.array([[0.1, 0.0, 0.0], [0.2, force, 0.0], [1.0, force, 0.0]])
    return bowl._replace(residuals=residuals * (bowl.rim, 1.0, 1.0))


def test_without_modifications_it_is_the_model(cup):
    """From first principles."""
    modified = ModifiedHeave(tabulate(cup), FlowCourse(tabulate(cup).vessel, record(cup)), 1.0)
    leg = modified.leg(np.zeros(len(modified.forces) + len(modified.pressures)))
    assert leg.stop == RIM_UNDER
    assert leg.times[RIM_UNDER] == pytest.approx(times(cup)["heave"], rel=1e-9)


@pytest.mark.parametrize("hole", [0.040, 0.060])
def test_with_all_modifications_it_is_the_flow(cup, hole):
    """From first principles; what is left is the spline's, 1e-3 of the time. With 40 mm water lands
    in bursts of some milliseconds."""
    case = cup.with_hole(hole)
    other = record(case, more_drag)
    modified = ModifiedHeave(tabulate(case), FlowCourse(tabulate(case).vessel, other), 1.0)
    everything = np.ones(len(modified.forces) + len(modified.pressures))
    assert modified.time(everything) == pytest.approx(other.time, rel=1e-3)


@pytest.mark.slow
def test_more_drag_is_given_back(cup):
    found = changed(cup, more_drag)
    assert found.terms["drag"] == pytest.approx(found.total, rel=CLOSED)
    assert abs(found.hole) < CLOSED * abs(found.total)


@pytest.mark.slow
def test_more_waves_are_given_back_and_press_on_the_hole_too(cup):
    """In the model waves act on bowl and fluid in the hole; the bowl's share has the name."""
    found = changed(cup, more_waves)
    assert found.terms["waves"] == pytest.approx(found.forces, rel=CLOSED)


def test_heavier_outer_water_is_given_back_as_added_mass_and_in_the_hole(cup):
    """All three coefficients double; the bowl's share has the name, the fluid's is the hole's. 70
    mm, because at 60 mm the two cancel."""
    found = changed(cup.with_hole(0.070), times_columns(2.0, BOWL, CROSS, HOLE))
    assert found.terms["added mass"] == pytest.approx(found.forces, rel=CLOSED)


def test_more_weight_of_inner_water_is_given_back_as_water_aloft(cup):
    found = changed(cup, pushed_down)
    assert found.terms["water aloft"] == pytest.approx(found.total, rel=CLOSED)
    assert "closed-off air" not in found.terms


def test_what_a_pocket_pushes_is_given_back_to_it(cup):
    """The same force, read as that of closed-off air, upwards on the bowl."""
    other, bowl = record(cup, pushed_down), pushed_down(tabulate(cup).bowl)
    level = other.inner_level + bowl.inner_edge
    push = -np.interp(level, bowl.residuals[:, 0], bowl.residuals[:, 1])
    other = replace(other, readings={**other.readings, "pocket_force": push})
    found = reasons(cup, other)
    assert found.terms["closed-off air"] == pytest.approx(found.total, rel=CLOSED)
    assert abs(found.terms["water aloft"]) < CLOSED * abs(found.total)


@pytest.mark.parametrize("with_readings", [True, False])
def test_a_larger_loss_is_given_back_to_the_hole_even_without_readings(cup, with_readings):
    """A resistance that takes some 15 % of the head."""

    def change(bowl: Bowl) -> Bowl:
        laws = bowl.laws.copy()
        laws[0, RESISTANCE] += 0.15 * math.sqrt(GRAVITY * bowl.head / 2.0) / bowl.hole_area
        return bowl._replace(laws=laws)

    found = changed(cup, change, with_readings)
    assert found.hole == pytest.approx(found.total, rel=CLOSED)
    assert bool(found.terms) == with_readings
    if with_readings:
        law = found.hole_terms["contraction, loss and inertia"]
        assert law == pytest.approx(found.total, rel=CLOSED)


def test_a_jet_that_contracts_more_takes_part_of_the_force_along(cup):
    """C = 0.55 for 0.61: less comes in, and what does is faster, presses the bowl down more, and
    flies longer, which lightens the bowl."""

    def change(bowl: Bowl) -> Bowl:
        laws = bowl.laws.copy()
        laws[0, CONSTANT] = 0.55
        return bowl._replace(laws=laws)

    found = changed(cup, change)
    assert found.hole < 0.0 < found.terms["jet reaction"]
    assert found.total < 0.0
    assert found.terms["water aloft"] < 0.0


def test_a_quasi_static_filling_owes_all_to_its_coefficient():
    """Torricelli's law with 0.61 in place of 0.55, nothing has inertia. Unlike a flow this history
    begins with a finite flow, which the splines round off."""
    case = load_case(shipped_case("steel-cup"))
    slow = replace(case, finish=replace(case.finish, discharge_coefficient=0.55))
    flow = MODELS["quasi-static"](slow)
    kept = flow.t <= flow.events["rim_under"]
    t = np.linspace(0.0, flow.sinking_time, 800)
    other = Record(
        t,
        np.interp(t, flow.t[kept], flow.draft[kept]),
        np.interp(t, flow.t[kept], flow.inner_level[kept]),
        flow.sinking_time,
        math.inf,
        {},
    )
    own = MODELS["quasi-static"](case).sinking_time
    found = attribute(case, other, {"quasi-static": own})["quasi-static"]
    assert found.hole == pytest.approx(found.total, rel=CLOSED)
    assert abs(found.forces) < CLOSED * abs(found.total)


def test_a_falling_body_owes_all_to_forces(cup):
    own = MODELS["falling"](cup).sinking_time
    found = attribute(cup, record(cup), {"falling": own})["falling"]
    assert (found.hole, found.remainder) == (0.0, 0.0)
    assert found.forces == found.total
    assert found.terms["water held back by the base"] < 0.0
    assert abs(found.rest) < CLOSED * abs(found.total)


def test_a_model_without_a_time_has_no_reasons(cup):
    assert attribute(cup, record(cup), {"heave": None}) == {"heave": None}


def test_a_history_of_a_few_steps_is_not_modelled(cup):
    long = record(cup)
    few = Record(long.t[:9], long.draft[:9], long.inner_level[:9], 0.2, math.inf, {})
    found = attribute(cup, few, times(cup))["heave"]
    assert found.note == attributing.UNREAD
    assert found.remainder == found.total


def test_shares_add_up_and_do_not_depend_on_the_order():
    """Aumann and Shapley's shares of x y + z^2 from 0 to 1: 1/2, 1/2, 1; from first principles."""
    shares = shares_of_causes(lambda x: float(x[0] * x[1] + x[2] ** 2), 3)
    assert shares == pytest.approx([0.5, 0.5, 1.0], rel=1e-9)


def test_a_jump_beside_the_way_does_not_spoil_the_shares():
    """T = x + y, but a second later where x leads y by more than 0.03."""
    shares = shares_of_causes(lambda x: float(x[0] + x[1] + (x[0] - x[1] > 0.03)), 2)
    assert sum(shares) == pytest.approx(2.0, rel=1e-9)


def test_a_rim_that_stays_up_on_the_way_leaves_no_shares():
    assert shares_of_causes(lambda x: None if x[0] > 0.5 else 1.0, 1) is None


@pytest.mark.parametrize("flow", [1e-4, -1e-4])
def test_the_head_that_a_law_needs_is_the_law_turned_round(cup, flow):
    law = discharge(cup)
    assert law.flow(head_needed(law, flow)) == pytest.approx(flow, rel=1e-9)
