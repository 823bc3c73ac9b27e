"""The reduced models' integrator and quadrature: their order, and scipy as a second opinion."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.reduced import MODELS, falling, heave, quasi_static
from sinkbowl.reduced.discharge import discharge
from sinkbowl.reduced.kernels import heave as terms
from sinkbowl.reduced.kernels.integration import LANDS, LATE, RIM_UNDER, ROW_ALOFT
from sinkbowl.reduced.kernels.rosenbrock import HEAVE
from sinkbowl.reduced.legs import STEP_SHARE, STEPS, integrate, terms_along
from sinkbowl.reduced.tables import Tables, tabulate
from sinkbowl.statics.vessel import Vessel


def case_of(name: str, hole: float | None = None) -> Case:
    case = load_case(shipped_case(name))
    return case if hole is None else case.with_hole(hole)


def rates(tables: Tables, state: np.ndarray) -> np.ndarray:
    """Rates of D, V, W, Q, eta and the mass aloft before any of it comes down."""
    *y, aloft = state
    told = terms_along(tables.bowl, np.zeros(1), np.array([y]), [max(aloft, 0.0)])[0]
    matrix = [
        [told[terms.M_BOWL], -told[terms.ON_BOWL]],
        [-told[terms.ON_HOLE], told[terms.M_HOLE]],
    ]
    rise, gain = np.linalg.solve(matrix, [told[terms.FORCE], told[terms.PRESSURE]])
    over, up = told[terms.LEVEL] > tables.bowl.inner_edge, told[terms.LEAVES] > y[1]
    fed = y[3] / tables.bowl.hole_area if over else 0.0
    flies = tables.bowl.density * y[3] if over and up else 0.0
    return np.array([y[1], rise, y[3], gain, fed - told[terms.SHED], flies])


def scipys(tables: Tables, until: float) -> np.ndarray:
    """State and mass aloft at a time by LSODA, begun anew where the water reaches the base."""

    def wet(t: float, y: np.ndarray) -> float:
        return float(y[2] - tables.bowl.plug)

    wet.terminal = True
    sizes = np.array([1e-2, 1e-1, 1e-5, 1e-4, 1e-2, 1e-2])
    found = None
    t, y = 0.0, np.append(heave.first_state(tables), 0.0)
    for events in (wet, None):
        found = solve_ivp(
            lambda _, y: rates(tables, y),
            (t, until),
            y,
            "LSODA",
            events=events,
            rtol=1e-8,
            atol=1e-9 * sizes,
        )
        t, y = found.t[-1], found.y[:, -1]
        y[2] = max(y[2], tables.bowl.plug * (1.0 + 1e-12))
    return np.asarray(y)


@pytest.mark.parametrize(
    ("name", "hole"), [("steel-cup", 0.03), ("steel-cup", 0.07), ("brass-cap", 0.05)]
)
def test_flight_before_the_first_landing_is_that_of_scipys_integrator(name, hole):
    """Without delay the equations are ordinary ones; second order: 1e-4 with half the steps."""
    tables = tabulate(case_of(name, hole))
    whole = integrate(HEAVE, tables.bowl, heave.first_state(tables), False)
    until = 0.9 * float(whole.times[LANDS])
    expected = scipys(tables, until)
    errors = []
    for steps in (150, 300):
        leg = integrate(
            HEAVE, tables.bowl, heave.first_state(tables), False, latest=until, steps=steps
        )
        assert leg.stop == LATE
        got = np.append(leg.rows[-1, 1 : 1 + terms.STATE], leg.rows[-1, ROW_ALOFT])
        errors.append(float(np.max(np.abs(got / expected - 1.0))))
    print(errors)
    assert errors[1] < 1e-4
    assert errors[0] < 4e-4


@pytest.mark.parametrize(
    ("name", "hole"), [("steel-cup", 0.02), ("lily-bowl", 0.04), ("steel-cup", 0.06)]
)
def test_sinking_time_converges_with_the_square_of_the_step(name, hole):
    """Also beyond the landing: halved steps change it by less than 2e-4, in the end 5e-5."""
    tables = tabulate(case_of(name, hole))
    times = []
    for factor in (1, 2, 4, 8):
        leg = integrate(
            HEAVE,
            tables.bowl,
            heave.first_state(tables),
            False,
            steps=STEPS * factor,
            step_share=STEP_SHARE / factor,
        )
        times.append(float(leg.times[RIM_UNDER]))
    changes = np.abs(np.diff(times)) / times[-1]
    print(times, changes)
    assert changes[0] < 2e-4
    assert changes[-1] < 5e-5


def test_a_rim_that_dips_and_returns_within_a_step_is_under():
    """A harder push takes the rim deeper, so whatever is harder than one that dips it dips it too.
    From first principles. These dip it by up to 15 um, for less than a step."""
    tables = tabulate(case_of("steel-cup", 0.01))

    def under(push: float, steps: int) -> bool:
        state = heave.first_state(tables)
        state[terms.SPEED] += push
        leg = integrate(HEAVE, tables.bowl, state, False, steps=steps, latest=0.2)
        return leg.stop == RIM_UNDER

    low, high = 0.5, 0.8
    while high - low > 1e-7:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if under(middle, 3000) else (middle, high)
    found = [under(push, 20) for push in high + np.linspace(-3e-4, 3e-4, 61)]
    print(high, found)
    assert found == sorted(found)
    assert 20 < sum(found) < 41


def test_falling_time_is_that_of_scipys_integrator():
    case = case_of("brass-cap", 0.03)
    tables = tabulate(case)

    def fall(_: float, y: np.ndarray) -> list[float]:
        missing = falling.force_missing(tables, y[:1], y[1:], np.zeros(1))
        return [y[1], -float(missing[0]) / (tables.bowl.mass + tables.bowl.ring_mass)]

    def under(_: float, y: np.ndarray) -> float:
        return float(y[0] - tables.bowl.rim)

    under.terminal = True
    start = falling.first_state(tables)[:2]
    found = solve_ivp(fall, (0.0, 10.0), start, "DOP853", events=under, rtol=1e-10, atol=1e-12)
    assert MODELS["falling"](case).sinking_time == pytest.approx(found.t[-1], rel=1e-6)


@pytest.mark.parametrize("name", ["steel-cup", "brass-cap", "lily-bowl", "beech-dish-brass-ring"])
def test_quasi_static_time_is_scipys_quadrature(name):
    """dt = dV / Q, with brentq for both levels: 1e-6; the plug of the hole apart."""
    case = case_of(name)
    vessel, law = Vessel(case), discharge(case)
    dry, top = vessel.mass / vessel.density, 4.0 * vessel.rim

    def seconds(amount: float) -> float:
        draft = brentq(lambda d: vessel.displaced(d) - dry - amount, 0.0, top, xtol=1e-13)
        level = brentq(
            lambda z: vessel.water(z) - amount, vessel.outer_edge, vessel.rim, xtol=1e-13
        )
        return 1.0 / law.flow(draft - level)

    ends = (0.0, vessel.plug_volume, vessel.hull_volume - dry)
    exact = sum(quad(seconds, a, b, limit=200, epsrel=1e-7)[0] for a, b in pairwise(ends))
    time = quasi_static.solve(case).sinking_time
    assert time == pytest.approx(exact, rel=1e-6)
