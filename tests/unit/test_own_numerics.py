"""Numerics written out here against libraries: roots, Student's t, cubics, functions, units."""

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator, make_lsq_spline
from scipy.optimize import brentq, minimize_scalar
from scipy.special import elliprd, iv, kve, stdtrit

from console import python
from sinkbowl.case.starter import shipped_case
from sinkbowl.common.numerics import Monotone, least, root, student
from sinkbowl.common.units import CELSIUS, USUAL, Kind, read_quantity
from sinkbowl.reduced.attribution.flow_course import basis, fitted
from sinkbowl.statics.added_mass import half_spheroid_share
from sinkbowl.statics.capillarity import _bessel_i, _ratio_k

FUNCTIONS = {
    "cubic": lambda x, a: x**3 - a,
    "exponential": lambda x, a: math.exp(x) - a,
    "a jump": lambda x, a: math.copysign(1.0, x - a),
    "steep": lambda x, a: math.atan(1e4 * (x - a)),
}
DEGREE = 5
NUMBERS = np.concatenate((
    np.random.default_rng(1).uniform(-400.0, 400.0, 300).round(2),
    np.geomspace(1e-6, 1e6, 100),
))  # fmt: skip


@pytest.mark.parametrize("name", FUNCTIONS)
@given(a=st.floats(0.1, 5.0), low=st.floats(-9.0, -5.1), digits=st.integers(5, 14))
def test_roots_have_the_bits_of_brentq(name, a, low, digits):
    """The flow solver starts from such a root: another last bit would be another run."""
    calls: dict[str, list[float]] = {"own": [], "theirs": []}

    def noted(who: str, x: float) -> float:
        calls[who].append(x)
        return FUNCTIONS[name](x, a)

    xtol, rtol = 10.0**-digits, 4.0 * float(np.finfo(float).eps)
    theirs = brentq(lambda x: noted("theirs", x), low, 6.0, xtol=xtol, rtol=rtol)
    assert root(lambda x: noted("own", x), low, 6.0, xtol, rtol) == theirs
    assert calls["own"] == calls["theirs"]


def test_no_change_of_sign_is_an_error():
    with pytest.raises(ValueError, match="no change of sign"):
        root(lambda x: x, 1.0, 2.0)


def test_a_function_that_is_flat_at_its_root_is_given_up():
    """So does brentq."""
    with pytest.raises(ArithmeticError, match="no root after 100 steps"):
        root(lambda x: (x - 1.0) ** 5, -6.0, 6.0, xtol=1e-14)


def test_a_root_at_an_end_is_found():
    assert root(lambda x: x - 1.0, 1.0, 2.0) == 1.0
    assert root(lambda x: x - 2.0, 1.0, 2.0) == 2.0


@given(a=st.floats(-1.5, 3.5))
def test_the_least_is_where_scipy_finds_it(a):
    """Flat to the square at its least: places agree to about the root of the round-off."""
    theirs = minimize_scalar(
        lambda x: math.cosh(x - a), bounds=(-2.0, 4.0), method="bounded", options={"xatol": 1e-8}
    )
    place, value = least(lambda x: math.cosh(x - a), -2.0, 4.0, 1e-7)
    assert place == pytest.approx(theirs.x, abs=1e-6)
    assert value == pytest.approx(theirs.fun, rel=1e-9)


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 12, 13, 99, 1000, 5001])
@pytest.mark.parametrize("chance", [0.5, 0.95, 0.999])
def test_students_t_is_that_of_scipy(freedom, chance):
    expected = stdtrit(freedom, 0.5 + 0.5 * chance)
    assert student(freedom, chance) == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("count", [2, 3, 4, 17])
@pytest.mark.parametrize("shape", [(), (5,), (2, 3)])
def test_monotone_cubics_are_those_of_scipy(count, shape):
    draw = np.random.default_rng(count)
    x = np.cumsum(draw.uniform(0.1, 1.0, count))
    y = draw.integers(-3, 4, (count, *shape)).astype(float)  # chords of 0 and turns among them
    at = np.linspace(x[0] - 0.5, x[-1] + 0.5, 101)
    assert Monotone(x, y)(at) == pytest.approx(PchipInterpolator(x, y)(at), abs=1e-11)
    assert Monotone(x, y)(x) == pytest.approx(y, abs=1e-12)


def test_the_attributions_spline_is_that_of_scipy():
    draw = np.random.default_rng(1)
    t = np.concatenate(([-1.0], np.sort(draw.uniform(-1.0, 1.0, 1000)), [1.0]))
    y = np.sin(5.0 * t) + 0.1 * draw.normal(size=t.size)
    knots = np.concatenate((np.full(DEGREE, -1.0), np.linspace(-1, 1, 41), np.full(DEGREE, 1.0)))
    theirs = make_lsq_spline(t, y, knots, k=DEGREE)
    ours = fitted(knots, basis(knots, t, DEGREE), y, DEGREE)
    at = np.linspace(-1.0, 1.0, 201)
    for order in range(3):
        expected = theirs(at, order)
        assert ours(at, order) == pytest.approx(expected, abs=1e-10 * np.abs(expected).max())


def test_bessel_functions_of_the_menisci():
    for r in np.geomspace(1e-5, 40.0, 100).tolist():
        for order in (0, 1):
            assert _bessel_i(order, r) == pytest.approx(iv(order, r), rel=1e-13)
    for r in np.geomspace(11.0, 2000.0, 100).tolist():
        assert _ratio_k(r) == pytest.approx(kve(1, r) / kve(0, r), rel=1e-13)


def test_share_of_a_half_spheroid_is_that_of_carlsons_integral():
    """Lamb art. 114 with R_D from scipy; across the sphere, where the closed form is 0 / 0. For a
    flat spheroid 2 - gamma is about pi c, so round-off counts 1 / c times."""
    near = 1.0 + np.linspace(-0.1, 0.1, 41)
    for c in (*np.geomspace(1e-5, 20.0, 200).tolist(), *near.tolist(), 1.0):
        gamma = 2.0 / 3.0 * c * elliprd(1.0, 1.0, c**2)
        assert half_spheroid_share(c) == pytest.approx(
            0.5 * np.pi * c * gamma / (2.0 - gamma), rel=1e-14 + 1e-15 / min(c, 1.0) + 1e-13
        )


@pytest.mark.parametrize(
    "command", [("check",), ("check", "--json"), ("size", "--time", "9 s"), ("new",)]
)
def test_answers_on_the_bench_wait_for_no_heavy_import(command, tmp_path):
    """Numba solves the reduced models, and brings scipy along; whoever asks for none needs none."""
    name, *options = command
    place = str(shipped_case("steel-cup")) if name != "new" else "new.toml"
    script = f"""
import sys
from sinkbowl_post.cli import main
try:
    main({[name, place, *options]!r})
except SystemExit as end:
    assert not end.code
heavy = {{"pint", "h5py", "matplotlib", "rich", "jinja2"}}
heavy |= set() if {name!r} in ("check", "size") else {{"scipy", "numba"}}
print("heavy:", sorted(heavy & set(sys.modules)))
"""
    assert python(script, cwd=tmp_path).endswith("heavy: []\n")


@pytest.mark.parametrize(
    ("si", "unit"), [*((si, unit) for si, units in USUAL.items() for unit in units), ("K", CELSIUS)]
)
def test_usual_units_are_converted_as_the_registry_does_to_the_bit(si, unit):
    """Pint is the source; a run must not change with the way its case was read."""
    kind = Kind("a quantity", si, f"-1e9 {unit}", f"1e9 {unit}", f"1 {unit}")
    registry = pint.UnitRegistry()
    for number in NUMBERS.tolist():
        expected = float(registry.Quantity(number, unit).to(si).magnitude)
        assert read_quantity(f"{number!r} {unit}", kind) == expected


def test_shipped_cases_are_read_without_the_registry():
    """Its loading was a third of what `check` costs."""
    script = (
        "import sys; from sinkbowl.case.case import load_case;"
        f"load_case({str(shipped_case('steel-cup'))!r}); assert 'pint' not in sys.modules"
    )
    python(script)
