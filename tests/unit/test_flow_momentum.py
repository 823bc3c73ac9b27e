"""Convection of the velocity: uniform flow kept, second order, no new extremes."""

from collections.abc import Callable

import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flow_bodies import FloatArray
from sinkbowl.flow.grid import Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.kernels import momentum
from sinkbowl.flow.kernels.extension import DRY
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import make_mesh

Field = Callable[[FloatArray, FloatArray], FloatArray]

DT = 1e-6  # step of these checks [s]; the rate does not depend on it

VALUE = st.floats(-10.0, 10.0)


def places(grid: Grid) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
    """r and z of the faces along r and along z."""
    return (
        tuple(np.meshgrid(grid.r_f, grid.z_c, indexing="ij")),
        tuple(np.meshgrid(grid.r_c, grid.z_f, indexing="ij")),
    )


def carried(
    grid: Grid, u_r: FloatArray, u_z: FloatArray, speed: float, dt: float
) -> tuple[FloatArray, FloatArray]:
    """Velocity after dt of convection without a solid, all faces wet."""
    mesh = make_mesh(grid, place_solid(grid, None))
    out_r, out_z = np.zeros_like(u_r), np.zeros_like(u_z)
    wet_r, wet_z = np.zeros(u_r.shape, np.int8), np.zeros(u_z.shape, np.int8)
    momentum.convect_r(mesh, u_r, u_z, wet_r, speed, dt, out_r)
    momentum.convect_z(mesh, u_r, u_z, wet_z, speed, dt, out_z)
    return out_r, out_z


def rates(grid: Grid, along_r: Field, along_z: Field, speed: float) -> tuple[FloatArray, ...]:
    """du_r/dt and du_z/dt by convection."""
    (r, z), (r2, z2) = places(grid)
    u_r, u_z = along_r(r, z), along_z(r2, z2)
    new_r, new_z = carried(grid, u_r, u_z, speed, DT)
    return (new_r - u_r) / DT, (new_z - u_z) / DT


def stretched(cells: int) -> Grid:
    """Smooth grid whose cells differ twofold."""
    x = np.linspace(0.0, 1.0, cells + 1)
    r = 0.1 * (x + 0.3 * np.sin(np.pi * x) / np.pi)
    return Grid(r, 0.02 + 0.1 * (x + 0.3 * np.sin(2.0 * np.pi * x) / (2.0 * np.pi)))


@pytest.mark.parametrize("speed", [0.0, 0.7, 1.3])
def test_uniform_flow_stays_as_it_is(speed):
    """From first principles, to the last bit, on a graded grid and at any speed of the bowl."""
    grid = Grid(
        lay_lines([0.0, 0.1], [Spacing(0.004, 0.04, 0.05)]),
        lay_lines([-0.1, 0.1], [Spacing(0.004, -0.01, 0.02)]),
    )
    along_r, along_z = rates(grid, lambda r, z: 0.0 * r, lambda r, z: 0.0 * r + 1.3, speed)
    assert not along_r.any()
    assert not along_z.any()


@pytest.mark.parametrize("b", [3.0, -3.0])
@pytest.mark.parametrize("speed", [0.0, 0.7, 2.5])
def test_linear_strain_is_carried_exactly_along_z_and_to_second_order_along_r(speed, b):
    """u_r = -b r / 2, u_z = a + b z: rates -b^2 r / 4 and -b (u_z - V), from first principles.
    Inwards and outwards, upwards and downwards. Along z the face values of a linear field are
    exact. Along r the mean of two r^2 exceeds the square of the mean by dr^2 / 4, which makes the
    rate b^2 dr^2 / (8 r) too large, no more; two faces at either end of each axis, whose stencils
    are cut short, are left out."""
    a = 1.0
    grid = uniform_grid(0.1, -0.1, 0.1, 12, 24)
    (r, _), (_, z) = places(grid)
    along_r, along_z = rates(grid, lambda r, z: -0.5 * b * r, lambda r, z: a + b * z, speed)
    off_z = (along_z + b * (a + b * z - speed))[:, 2:-2]
    assert np.abs(off_z).max() < 1e-8, f"{np.abs(off_z).max():.1e}"
    off_r = np.abs(along_r + 0.25 * b * b * r)[2:-2]
    bound = b * b * grid.dr[0] ** 2 / (8.0 * r[2:-2])
    assert np.all(off_r <= bound * (1.0 + 1e-6) + 1e-8)


def even(cells: int) -> Grid:
    return uniform_grid(0.1, 0.02, 0.12, cells, cells)


@pytest.mark.parametrize("c", [1.0, -1.0], ids=["in and up", "out and down"])
@pytest.mark.parametrize("make", [even, stretched])
def test_smooth_flow_is_carried_at_second_order(make, c):
    """u_r = -c r k cos kz, u_z = 2 c sin kz, free of divergence and of extremes in the window.
    Rates by hand from (u - V e_z) . grad u; the mean error over the middle half must fall at an
    order of 1.8 at least, the design's target."""
    k, speed = 10.0, 0.4 * c

    def errors(cells: int) -> list[float]:
        grid = make(cells)
        (r, z), (_, z2) = places(grid)
        along_r, along_z = rates(
            grid,
            lambda r, z: -c * r * k * np.cos(k * z),
            lambda r, z: 2.0 * c * np.sin(k * z),
            speed,
        )
        rise = 2.0 * c * np.sin(k * z) - speed
        exact_r = -r * k * k * (np.cos(k * z) ** 2 + c * rise * np.sin(k * z))
        exact_z = -(2.0 * c * np.sin(k * z2) - speed) * 2.0 * c * k * np.cos(k * z2)
        q = cells // 4
        return [
            float(np.abs(off[q:-q, q:-q]).mean()) for off in (along_r - exact_r, along_z - exact_z)
        ]

    coarse, middle, fine = (np.array(errors(n)) for n in (16, 32, 64))
    orders = np.log2([coarse / middle, middle / fine])
    print("orders along r and z", orders)
    assert orders.min() > 1.8, f"{orders}"


@numba.njit("float64(float64, float64, float64, boolean)")
def upwind(far, near, here, outflow):
    """A part of kernels, for Python."""
    return momentum.upwind(far, near, here, outflow)


@given(VALUE, VALUE, VALUE, st.booleans())
def test_face_value_lies_between_the_values_on_both_sides(far, near, here, outflow):
    """van Leer 1974: the limiter never overshoots either neighbour of the face."""
    value = upwind(far, near, here, outflow)
    assert min(near, here) - 1e-12 <= value <= max(near, here) + 1e-12


@given(VALUE, VALUE, st.booleans())
def test_face_value_at_an_extreme_is_the_upwind_value(near, here, outflow):
    """van Leer 1974: no slope where the upwind volume is a local extreme."""
    centre, down = (here, near) if outflow else (near, here)
    assert upwind(down, near, here, outflow) == centre


@given(VALUE, st.floats(-5.0, 5.0), st.booleans())
def test_face_value_of_a_linear_field_is_the_middle(here, step, outflow):
    """From first principles: equal steps on both sides of the upwind volume."""
    near, far = (here + step, here - step) if outflow else (here + step, here + 2.0 * step)
    value = upwind(far, near, here, outflow)
    assert value == pytest.approx(here + 0.5 * step, abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(st.lists(VALUE, min_size=12, max_size=12), st.booleans())
def test_profile_carried_along_z_gets_no_new_extremes(profile, upwards):
    """Total variation does not grow below a Courant number of one half (Harten 1983). A thin
    profile of u_r in a uniform u_z, so that it does not carry itself; ten steps at 0.4."""
    grid = uniform_grid(0.1, 0.0, 0.32, 4, 32)
    u_r, u_z = np.zeros((5, 32)), np.full((4, 33), 1.0 if upwards else -1.0)
    values = 1e-9 * np.array([0.0] * 10 + profile + [0.0] * 10)
    u_r[2] = values
    variation = np.abs(np.diff(values)).sum()
    for _ in range(10):
        u_r = np.where(np.arange(5)[:, None] == 2, carried(grid, u_r, u_z, 0.0, 0.004)[0], 0.0)
        now = np.abs(np.diff(u_r[2])).sum()
        assert now <= variation * (1.0 + 1e-6) + 1e-18
        variation = now
    assert values.min() * (1.0 + 1e-6) - 1e-18 <= u_r[2].min()
    assert u_r[2].max() <= values.max() * (1.0 + 1e-6) + 1e-18


def test_swirl_of_shear_is_not_changed_by_its_own_motion():
    """u_z(r) alone: every fluid element keeps its speed (Lamb: parallel flow is steady)."""
    grid = uniform_grid(0.1, -0.1, 0.1, 16, 32)
    along_r, along_z = rates(grid, lambda r, z: 0.0 * r, lambda r, z: 1.0 - 90.0 * r**2, 0.2)
    assert not along_r.any()
    assert np.abs(along_z[:, 1:-1]).max() < 1e-9


def test_faces_in_air_at_rest_are_left_alone():
    """DRY faces with none but DRY or closed neighbours are copied; others are carried."""
    grid = uniform_grid(0.1, -0.1, 0.1, 8, 16)
    mesh = make_mesh(grid, place_solid(grid, None))
    (_, _), (_, z) = places(grid)
    u_z, u_r = 1.0 + 3.0 * z, np.zeros((9, 16))
    known = np.full(u_z.shape, DRY, np.int8)
    known[:, :8] = 0
    out = np.zeros_like(u_z)
    momentum.convect_z(mesh, u_r, u_z, known, 0.0, 1e-3, out)
    assert np.array_equal(out[:, 8:], u_z[:, 8:])
    assert np.all(out[:, 2:8] < u_z[:, 2:8])
