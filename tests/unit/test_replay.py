"""Replays: histories made by a model with one term changed give that term back."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.shipped import shipped_case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.reduced import MODELS, heave, heave_equations
from sinkbowl.reduced.discharge import Discharge
from sinkbowl.reduced.drag import drag_force
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import Care, Log
from sinkbowl.reduced.replay import attribute as attributing
from sinkbowl.reduced.replay.attribute import Reasons, attribute
from sinkbowl.reduced.replay.heave_replay import HeaveReplay
from sinkbowl.reduced.replay.path import Record
from sinkbowl.reduced.replay.quasi_static_replay import head_needed
from sinkbowl.reduced.replay.sharing import share_out
from sinkbowl.reduced.waves import wave_damping
from sinkbowl.statics import vessel as vessels

CLOSED = 0.1
"""Share of the difference within which the contributions must add up."""


class Observed(HeaveEquations):
    """The heave model that also notes what the flow's history has."""

    def observe(self, state: np.ndarray) -> tuple[float, ...]:
        draft, speed, z, flow, excess = (float(value) for value in state)
        loads, v, rho = self.loads(state), self.vessel, self.density
        bowl, slug = loads.inertia.accelerations(loads.force, loads.pressure)
        momentum = rho * flow * (z - v.outer_edge) + excess - rho * v.water(z) * speed
        depth = max(z - v.inner_edge, 0.0)
        foot = rho * depth * (GRAVITY - bowl + slug / loads.section)
        foot -= loads.returned * v.hole_area / loads.section**2
        jet, _ = self.law.jet(flow, speed, v.outside(draft).radius)
        self.readings.append((momentum, rho * flow * jet + v.hole_area * foot, foot))
        return super().observe(state)


@pytest.fixture(scope="module")
def cup() -> Case:
    return load_case(shipped_case("steel-cup")).with_hole(0.060)


def record(case: Case, with_readings: bool = True) -> Record:
    """A history of the heave model as it is now, changed or not."""
    equations, log = Observed(case), Log()
    equations.readings = []
    rim = equations.vessel.rim
    start = (0.0, heave.first_state(equations))
    ends = {"rim_under": lambda y: y[0] - rim}
    _, (time, _) = heave.fill_until(equations, start, ends, log, Care(1e-9, 600))
    sinking = log.sinking("flow", "", comes_up=False)
    kept = np.concatenate(([True], np.diff(sinking.t) > 0.0))
    names = ("inner_momentum", "hole_thrust", "foot_pressure")
    columns = np.array(equations.readings[-len(sinking.t) :])[kept].T
    readings = dict(zip(names, columns, strict=True))
    readings["aloft_volume"] = np.zeros(int(np.sum(kept)))
    return Record(
        sinking.t[kept],
        sinking.draft[kept],
        sinking.inner_level[kept],
        time,
        math.inf,
        readings if with_readings else {},
    )


def times(case: Case) -> dict[str, float | None]:
    return {"heave": MODELS["heave"](case).sinking_time}


def changed(
    case: Case, change: Callable[[pytest.MonkeyPatch], None], with_readings: bool = True
) -> Reasons:
    """Reasons of the heave model against a history of the changed one."""
    with pytest.MonkeyPatch.context() as patch:
        change(patch)
        other = record(case, with_readings)
    found = attribute(case, other, times(case))["heave"]
    assert found is not None
    print(found)
    assert found.hole + found.forces + found.remainder == pytest.approx(found.total, abs=1e-12)
    assert sum(found.terms.values()) + found.rest == pytest.approx(found.forces, abs=1e-12)
    assert abs(found.remainder) < CLOSED * abs(found.total)
    return found


def more_drag(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(heave_equations, "drag_force", lambda *given: 3.0 * drag_force(*given))


def more_waves(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(heave_equations, "wave_damping", lambda *given: 4.0 * wave_damping(*given))


def test_without_any_lack_the_replay_is_the_model(cup: Case) -> None:
    """From first principles; momentum and energy by the matrix of the kinetic energy."""
    equations = HeaveEquations(cup)
    replay = HeaveReplay(equations, record(cup), 1.0, Care(1e-9, 0))
    nothing = np.zeros(len(replay.forces) + len(replay.pressures))
    stop, (time, state) = replay.end(nothing)
    model = MODELS["heave"](cup)
    k = int(np.argmin(np.abs(model.t - model.events["rim_under"])))
    assert stop == "rim_under"
    assert time == pytest.approx(model.sinking_time, rel=1e-6)
    z = model.inner_level[k] + equations.vessel.inner_edge
    sums = []
    for draft, speed, level, flow in (
        state[:4],
        (model.draft[k], model.speed[k], z, model.hole_flow[k]),
    ):
        m = equations.inertia(float(draft), float(level))
        momentum = m.bowl * speed - m.coupling * flow
        energy = m.bowl * speed**2 - 2.0 * m.coupling * speed * flow + m.slug * flow**2
        sums.append((momentum, 0.5 * energy))
    assert sums[0] == pytest.approx(sums[1], rel=1e-6)


def test_with_all_lacks_the_replay_is_the_flow(cup: Case) -> None:
    """From first principles; what is left is the spline's, 1e-3 of the time."""
    with pytest.MonkeyPatch.context() as patch:
        more_drag(patch)
        other = record(cup)
    replay = HeaveReplay(HeaveEquations(cup), other, 1.0)
    everything = np.ones(len(replay.forces) + len(replay.pressures))
    assert replay.time(everything) == pytest.approx(other.time, rel=1e-3)


@pytest.mark.slow
def test_more_drag_is_given_back(cup: Case) -> None:
    found = changed(cup, more_drag)
    assert found.terms["drag"] == pytest.approx(found.total, rel=CLOSED)
    assert abs(found.hole) < CLOSED * abs(found.total)


@pytest.mark.slow
def test_more_waves_are_given_back_and_press_on_the_hole_too(cup: Case) -> None:
    """In the model waves act on bowl and slug; the bowl's share has the name."""
    found = changed(cup, more_waves)
    assert found.terms["waves"] == pytest.approx(found.forces, rel=CLOSED)


def test_heavier_outer_water_is_given_back_as_added_mass_and_in_the_hole(cup: Case) -> None:
    """All three coefficients grow; the bowl's share has the name, the slug's is the hole's."""

    def change(patch: pytest.MonkeyPatch) -> None:
        own = vessels.outer_inertia
        heavier = lambda *given, **named: type(own(*given, **named))(  # noqa: E731
            *(1.3 * part for part in own(*given, **named))
        )
        patch.setattr(vessels, "outer_inertia", heavier)

    found = changed(cup, change)
    assert found.terms["added mass"] == pytest.approx(found.forces, rel=CLOSED)


def test_longer_mixing_is_given_back_as_water_aloft(cup: Case) -> None:
    def change(patch: pytest.MonkeyPatch) -> None:
        own = HeaveEquations.__init__

        def slower(self: HeaveEquations, case: Case) -> None:
            own(self, case)
            self.mixing_time *= 3.0

        patch.setattr(HeaveEquations, "__init__", slower)

    found = changed(cup, change)
    assert found.terms["water aloft"] == pytest.approx(found.forces, rel=CLOSED)


@pytest.mark.parametrize("with_readings", [True, False])
def test_a_larger_loss_is_given_back_to_the_hole_even_without_readings(
    cup: Case, with_readings: bool
) -> None:
    def change(patch: pytest.MonkeyPatch) -> None:
        own = Discharge.jet

        def lossy(*given: float) -> tuple[float, float]:
            jet, energy = own(*given)
            return jet, 1.2 * energy

        patch.setattr(Discharge, "jet", lossy)

    found = changed(cup, change, with_readings)
    assert found.hole == pytest.approx(found.total, rel=CLOSED)
    assert bool(found.terms) == with_readings


def test_a_jet_that_contracts_more_takes_part_of_the_force_along(cup: Case) -> None:
    """C = 0.55 for 0.61: less comes in, and what does is faster and presses the bowl down more."""

    def change(patch: pytest.MonkeyPatch) -> None:
        own = heave_equations.discharge
        smaller = lambda case: replace(own(case), constant=0.55)  # noqa: E731
        patch.setattr(heave_equations, "discharge", smaller)

    found = changed(cup, change)
    assert found.hole < found.total < 0.0 < found.terms["jet reaction"]


def test_a_quasi_static_filling_owes_all_to_its_coefficient() -> None:
    """Torricelli's law with 0.61 in place of 0.55, nothing has inertia.

    Unlike a flow this history begins with a finite flow, which the splines round off.
    """
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
    assert found is not None
    assert found.hole == pytest.approx(found.total, rel=CLOSED)
    assert abs(found.forces) < CLOSED * abs(found.total)


def test_a_falling_body_owes_all_to_forces(cup: Case) -> None:
    own = MODELS["falling"](cup).sinking_time
    found = attribute(cup, record(cup), {"falling": own})["falling"]
    assert found is not None
    assert (found.hole, found.remainder) == (0.0, 0.0)
    assert found.forces == found.total
    assert found.terms["water held back by the base"] < 0.0
    assert abs(found.rest) < CLOSED * abs(found.total)


def test_a_model_without_a_time_has_no_reasons(cup: Case) -> None:
    assert attribute(cup, record(cup), {"heave": None}) == {"heave": None}


def test_a_history_of_a_few_steps_is_not_replayed(cup: Case) -> None:
    long = record(cup)
    few = Record(long.t[:9], long.draft[:9], long.inner_level[:9], 0.2, math.inf, {})
    found = attribute(cup, few, times(cup))["heave"]
    assert found is not None
    assert found.note == attributing.UNREAD
    assert found.remainder == found.total


def test_shares_add_up_and_do_not_depend_on_the_order() -> None:
    """Aumann and Shapley's shares of x y + z^2 from 0 to 1: 1/2, 1/2, 1; from first principles."""
    shares = share_out(lambda x: float(x[0] * x[1] + x[2] ** 2), 3)
    assert shares == pytest.approx([0.5, 0.5, 1.0], rel=1e-9)


def test_a_jump_beside_the_way_does_not_spoil_the_shares() -> None:
    """T = x + y, but a second later where x leads y by more than 0.03."""
    shares = share_out(lambda x: float(x[0] + x[1] + (x[0] - x[1] > 0.03)), 2)
    assert shares is not None
    assert sum(shares) == pytest.approx(2.0, rel=1e-9)


def test_a_rim_that_stays_up_on_the_way_leaves_no_shares() -> None:
    assert share_out(lambda x: None if x[0] > 0.5 else 1.0, 1) is None


@pytest.mark.parametrize("flow", [1e-4, -1e-4])
def test_the_head_that_a_law_needs_is_the_law_turned_round(cup: Case, flow: float) -> None:
    law = HeaveEquations(cup).law
    assert law.flow(head_needed(law, flow)) == pytest.approx(flow, rel=1e-9)
