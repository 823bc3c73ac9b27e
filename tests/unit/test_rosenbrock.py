"""The integrator of the reduced models: its order, stiff rates, and scipy as a second opinion."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from sinkbowl.case.case import load_case
from sinkbowl.case.shipped import shipped_case
from sinkbowl.reduced import heave, integrate, quasi_static
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import Care, Kink, march
from sinkbowl.reduced.rosenbrock import jacobian, step


def swing(y: Sequence[float]) -> list[float]:
    """A pendulum of frequency 1, as far as it likes."""
    return [y[1], -math.sin(y[0])]


def error_of(steps: int, embedded: bool = False) -> float:
    """Error at t = 2 of a pendulum let go at 1 rad, against scipy's Dormand-Prince 8 at 1e-13."""
    exact = solve_ivp(lambda t, y: swing(y), (0, 2), [1, 0], "DOP853", rtol=1e-13, atol=1e-14)
    y, h = [1.0, 0.0], 2.0 / steps
    for _ in range(steps):
        slope = swing(y)
        y, error = step(swing, y, slope, jacobian(swing, y, slope, (1.0, 1.0)), h)
        if embedded:
            y = [a - e for a, e in zip(y, error, strict=True)]
    return float(np.max(np.abs(np.array(y) - exact.y[:, -1])))


def test_steps_are_of_fourth_order_and_their_errors_those_of_a_third_order() -> None:
    """Wrong in any of its coefficients, a method loses its order (Hairer & Wanner, IV.7)."""
    order = math.log2(error_of(32) / error_of(64))
    lower = math.log2(error_of(32, embedded=True) / error_of(64, embedded=True))
    print(order, lower)
    assert order > 3.8
    assert 2.8 < lower < 3.5


def test_stiff_part_dies_out_in_one_step() -> None:
    """y' = -1e6 (y - cos t) - sin t (Prothero & Robinson): an L-stable method lands on cos t."""

    def rates(y: Sequence[float]) -> list[float]:
        return [-1e6 * (y[0] - math.cos(y[1])) - math.sin(y[1]), 1.0]

    y = [2.0, 0.0]
    for _ in range(10):
        slope = rates(y)
        y, _ = step(rates, y, slope, jacobian(rates, y, slope, (1.0, 1.0)), 0.1)
    assert y[0] == pytest.approx(math.cos(1.0), abs=1e-4)


def test_leg_ends_at_its_stop_and_passes_its_kink() -> None:
    """y' = 1 up to 1, then 3: it is 4 at t = 2 exactly."""
    leg = march(
        lambda y: [1.0 if y[0] < 1.0 else 3.0],
        (0.0, np.array([0.0])),
        {"four": lambda y: y[0] - 4.0},
        (1.0,),
        [Kink(0, 1.0)],
    )
    assert leg.stop == "four"
    assert leg.end[0] == pytest.approx(2.0, abs=1e-12)
    assert np.interp([0.5, 1.5], leg.t, leg.y[0]) == pytest.approx([0.5, 2.5], abs=1e-9)


def test_samples_lie_on_the_way() -> None:
    """A fall in vacuum and a swing: y = cos t between the steps too."""
    leg = march(
        lambda y: [y[1], -y[0], 1.0],
        (0.0, np.array([1.0, 0.0, 0.0])),
        {"late": lambda y: y[2] - 5.0},
        (1.0, 1.0, 1.0),
        care=Care(1e-8, 120),
    )
    assert leg.t.size >= 120
    assert np.allclose(leg.y[0], np.cos(leg.t), rtol=0.0, atol=1e-6)


def scipys_time(equations: HeaveEquations) -> float:
    """Sinking time by LSODA [s], begun anew at each jump of an area."""

    def reaches(component: int, value: float) -> Callable[[float, np.ndarray], float]:
        def event(t: float, y: np.ndarray) -> float:
            return float(y[component]) - value

        event.terminal = True  # type: ignore[attr-defined]
        return event

    goals = [*equations.kinks, Kink(0, equations.vessel.rim)]
    time, y = 0.0, heave.first_state(equations)
    while y[0] < equations.vessel.rim:
        goals = [goal for goal in goals if y[goal.component] < goal.value]
        found = solve_ivp(
            lambda t, y: equations.rates(y.tolist()),
            (time, time + 100.0),
            y,
            "LSODA",
            events=[reaches(*goal) for goal in goals],
            rtol=1e-9,
            atol=1e-10 * np.array(equations.scales),
        )
        passed = next(goal for goal, t in zip(goals, found.t_events, strict=True) if t.size)
        time, y = found.t[-1], found.y[:, -1]
        y[passed.component] = passed.value
    return float(time)


@pytest.mark.parametrize("name", ["steel-cup", "steel-cup-wide-hole", "brass-cap"])
def test_sinking_time_is_that_of_scipys_integrator(name: str) -> None:
    """Each keeps its steps to 1e-7 or better; some hundreds of them stay within 1e-6."""
    case = load_case(shipped_case(name))
    expected = scipys_time(HeaveEquations(case))
    time = heave.solve(case, quick=True, close=True).sinking_time
    assert time is not None
    print(time / expected - 1.0)
    assert time == pytest.approx(expected, rel=1e-6)


def test_a_tighter_tolerance_changes_no_sinking_time_by_more_than_1e_6(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = load_case(shipped_case("lily-bowl"))
    models = (heave.solve, quasi_static.solve)
    times = [solve(case, quick=True, close=True).sinking_time for solve in models]
    monkeypatch.setattr(integrate, "ALONE", Care(1e-9, 0))
    closer = [solve(case, quick=True, close=True).sinking_time for solve in models]
    assert times == pytest.approx(closer, rel=1e-6)
