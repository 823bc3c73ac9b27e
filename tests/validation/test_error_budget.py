"""The error budget against the law of propagation on a closed form.

Thin straight cylinder: T = A (H - M) / (C_d a sqrt(2 g M)), M = m / (rho A), A = pi R^2,
a = pi d^2 / 4 (derived). Its derivatives by hand give the standard uncertainty by JCGM 100:2008
(GUM), formula 10; the density's against temperature is taken from iapws (IAPWS-95).
"""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from iapws import IAPWS95
from numpy.typing import NDArray

from cups import cup
from sinkbowl.bowl import shapes
from sinkbowl.case.blank import Blank
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.design.budget.budget import Budget
from sinkbowl.design.budget.propagation import combined, distribution, response, samples
from sinkbowl.design.budget.uncertainty import error_budget

HEIGHT, RADIUS, MASS, DRILL, COEFFICIENT = 0.08, 0.05, 0.2, 4e-3, 0.6
U = {
    "hole": 5e-5,
    "mass": 1e-3,
    "radius": 1e-4,
    "temperature": 2.0,
    "discharge_coefficient": 0.01,
    "timing": 0.3,
}
MORE = """
discharge_coefficient = 0.6
[uncertainty]
hole = "0.05 mm"
mass = "1 g"
radius = "0.1 mm"
temperature = "2 K"
contact_angle = "5 deg"
discharge_coefficient = 0.01
timing = "0.3 s"
"""


def foil_cylinder() -> Case:
    """The cylinder of foil, 0.1 um thick."""
    case = cup(4, height=80, wall=0.1, base=0.1, more=MORE)
    section = shapes.cup(RADIUS, HEIGHT, 1e-7, 1e-7)
    blank = Blank(section, MASS, None, RADIUS - 1e-7)
    return replace(case, blank=blank, bowl=blank.drilled(DRILL))


def density(temperature: float) -> float:
    """Of water at 0.101325 MPa [kg/m^3] (IAPWS-95)."""
    return float(IAPWS95(T=temperature, P=0.101325).rho)


def closed_form(
    hole: NDArray[np.float64],
    mass: NDArray[np.float64],
    radius: NDArray[np.float64],
    rho: NDArray[np.float64],
    coefficient: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Sinking time [s]."""
    area = np.pi * radius**2
    head = mass / (rho * area)
    flow = coefficient * 0.25 * np.pi * hole**2 * np.sqrt(2.0 * GRAVITY * head)
    return area * (HEIGHT - head) / flow


def exact_effects() -> tuple[float, dict[str, float]]:
    """T and c_i u_i [s] from the derivatives of ln T, by hand."""
    rho = density(293.15)
    head = MASS / (rho * np.pi * RADIUS**2)
    time = float(closed_form(*(np.array(x) for x in (DRILL, MASS, RADIUS, rho, COEFFICIENT))))
    by_head = head / (HEIGHT - head) + 0.5  # -d ln T / d ln M
    expansion = (density(295.15) - density(291.15)) / (4.0 * rho)
    logarithmic = {
        "hole": -2.0 / DRILL,
        "mass": -by_head / MASS,
        "radius": (2.0 + 2.0 * by_head) / RADIUS,
        "temperature": by_head * expansion,
        "discharge_coefficient": -1.0 / COEFFICIENT,
        "timing": 1.0 / time,
    }
    return time, {name: time * slope * U[name] for name, slope in logarithmic.items()}


@pytest.fixture(scope="module")
def budget() -> Budget:
    return error_budget(foil_cylinder(), "quasi-static")


def test_first_order_effects_are_the_derivatives_of_the_closed_form(budget):
    """GUM formula 10, input by input; 1e-3 for the steps of one u (2 u^2 / d^2 = 3e-4)."""
    time, exact = exact_effects()
    assert budget.time == pytest.approx(time, rel=1e-4)
    found = {row.name: row.effect for row in budget.contributions}
    for name, effect in exact.items():
        assert found[name] == pytest.approx(effect, rel=1e-3), f"{name}: {found[name]}, {effect}"
    assert found["contact_angle"] == 0.0
    order = sorted(exact, key=lambda name: -abs(exact[name]))
    assert [row.name for row in budget.contributions][:6] == order


def test_standard_uncertainty_is_that_of_the_law_of_propagation(budget):
    """GUM formula 10, all together."""
    _, exact = exact_effects()
    u = math.sqrt(sum(effect**2 for effect in exact.values()))
    assert budget.uncertainty == pytest.approx(u, rel=1e-3), f"{budget.uncertainty} against {u} s"


def test_monte_carlo_agrees_with_the_law_of_propagation(budget):
    """2 %: four standard errors of a deviation from 20 000 samples; 95 % lie within 1.96 u."""
    time, exact = exact_effects()
    u = math.sqrt(sum(effect**2 for effect in exact.values()))
    drawn = budget.monte_carlo
    assert drawn.deviation == pytest.approx(u, rel=0.02), f"{drawn.deviation} against {u} s"
    assert drawn.mean == pytest.approx(time, abs=0.1 * u)
    assert 0.5 * (drawn.high - drawn.low) == pytest.approx(1.96 * u, rel=0.03)


def test_monte_carlo_agrees_with_a_million_draws_of_the_closed_form(budget):
    """JCGM 101:2008 on the closed form itself: new samples, no parabolas; four standard errors."""
    rng = np.random.default_rng(5)
    normal = rng.standard_normal((6, 1_000_000))
    near = np.linspace(280.0, 306.0, 53)
    rho = np.interp(293.15 + U["temperature"] * normal[3], near, [density(t) for t in near])
    times = closed_form(
        DRILL + U["hole"] * normal[0],
        MASS + U["mass"] * normal[1],
        RADIUS + U["radius"] * normal[2],
        rho,
        COEFFICIENT + U["discharge_coefficient"] * normal[4],
    )
    exact = distribution(times + U["timing"] * normal[5])
    drawn = budget.monte_carlo
    error = exact.deviation / math.sqrt(20_000)
    assert drawn.mean == pytest.approx(exact.mean, abs=4.0 * error)
    assert drawn.deviation == pytest.approx(exact.deviation, abs=4.0 * error / math.sqrt(2.0))
    # Standard error of the 2.5 % point of a normal law: 2.67 of the mean's.
    assert drawn.low == pytest.approx(exact.low, abs=4.0 * 2.67 * error)
    assert drawn.high == pytest.approx(exact.high, abs=4.0 * 2.67 * error)


def test_heave_model_of_a_slow_bowl_has_the_same_budget(budget):
    """80 s against a heave period of 0.4 s: inertia changes no effect by more than 1 %."""
    heave = error_budget(foil_cylinder(), "heave")
    found = {row.name: row.effect for row in heave.contributions}
    for row in budget.contributions:
        if row.name != "temperature":
            assert found[row.name] == pytest.approx(row.effect, rel=0.01), row.name
    assert heave.uncertainty == pytest.approx(budget.uncertainty, rel=0.01)


def test_law_of_propagation_of_a_product():
    """GUM 5.1.6: relative variances of c x^p y^q add up as (p u(x)/x)^2 + (q u(y)/y)^2.
    Torricelli's T ~ d^-2 C^-1 through the same two functions as the budget; 5e-4 for steps of 1
    %."""
    u = (0.01, 0.015)

    def log_time(d: float, c: float) -> float:
        return -2.0 * math.log(d) - math.log(c)

    steps: list[Callable[[float], float]] = [
        lambda s: log_time(1.0 + s * u[0], 1.0),
        lambda s: log_time(1.0, 1.0 + s * u[1]),
    ]
    below = np.array([step(-1.0) for step in steps])
    above = np.array([step(1.0) for step in steps])
    exact = math.hypot(2.0 * u[0], u[1])
    assert combined(0.5 * (above - below)) == pytest.approx(exact, rel=5e-4)
    drawn = distribution(np.exp(response(0.0, below, above).at(samples(2))))
    # The second-order terms of a product add u^2 (3 p^2 + ...) to its variance: below 0.2 %.
    assert drawn.deviation == pytest.approx(exact, rel=0.02)
