"""Surface tension of the flow solver against closed forms.

sigma = 72.74 mN/m, IAPWS R1-76 at 20 degC. The flow is inviscid: nothing but the scheme damps.
"""

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.special import j0, jn_zeros

from drops import (
    HELD,
    SIGMA,
    drop,
    fill_outline,
    spheroid,
    surface_curvature,
    tense_tank,
    tension_of,
    tube,
)
from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import uniform_grid
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.state import HeaveBody
from sinkbowl.flow.step import advance
from sinkbowl.verification.tanks import DENSITY


def worst_curvature(cells: int, box: float, outline, exact) -> float:
    """Greatest error of the curvature over 1/R, R = 1.

    A height function gives the curvature where the surface crosses the column's middle. `exact`
    takes r and z of a cell's centre and returns it for a column along z and for one along r.
    """
    n = round(cells * box)
    grid = uniform_grid(box, -box, box, n, 2 * n)
    ops, state = tense_tank(grid)
    fill_outline(ops, state, outline)
    kappa, fitted = surface_curvature(ops, state)
    assert fitted == 0
    on = np.argwhere(kappa != 0.0)
    return float(max(np.abs(kappa[i, j] - exact(grid.r_c[i], grid.z_c[j])).min() for i, j in on))


def test_curvature_of_a_ball_converges_with_second_order():
    """2/R everywhere (closed form), the pole on the axis included, centre off the grid's lines."""
    ball = spheroid(1.0, 1.0, 0.0021)
    errors = [worst_curvature(n, 1.5, ball, lambda r, z: np.array([2.0])) for n in (8, 16, 32)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    print(f"errors over 1/R {errors}, orders {orders}")
    assert orders.min() >= 1.8


def test_curvature_of_a_torus_converges_with_second_order():
    """1/b + cos(t)/(A + b cos(t)), t the angle about the section's centre; inner side included."""
    big, small = 1.5, 1.0
    angle = np.linspace(0.0, 2.0 * np.pi, 20001)[:-1]
    ring = np.column_stack((big + small * np.cos(angle), 0.0021 + small * np.sin(angle)))

    def exact(r: float, z: float) -> np.ndarray:
        rise = min(abs(z - 0.0021) / small, 1.0)
        cosine = np.array([(r - big) / small, np.copysign(np.sqrt(1.0 - rise**2), r - big)])
        return 1.0 / small + cosine / (big + small * cosine)

    errors = [worst_curvature(n, 3.0, ring, exact) for n in (8, 16, 32)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    print(f"errors over 1/b {errors}, orders {orders}")
    assert orders.min() >= 1.8


def test_laplace_pressure_of_a_small_drop():
    """2 sigma / R = 145.5 Pa for R = 1 mm (Laplace), within 1 %, and hardly any motion. Speeds are
    spurious; they are printed over sqrt(sigma / (rho R)) and as a capillary number."""
    radius = 1e-3
    ops, state = drop(16, radius, 1.5, 0.0021 * radius)
    dt = 0.5 * tension_of(ops).longest_step(state, ops.mesh_of(state))
    for _ in range(400):
        advance(state, HELD, dt, ops)
    inside = state.extended > 1.0 - 1e-9
    pressure = state.pressure[inside]
    speed = max(np.abs(state.u_r).max(), np.abs(state.u_z).max())
    unit = np.sqrt(SIGMA / (DENSITY * radius))
    print(
        f"pressure {pressure.mean():.2f} Pa, speed {speed / unit:.1e} of {unit:.2f} m/s, "
        f"capillary number {1e-3 * speed / SIGMA:.1e}"
    )
    assert pressure.mean() == pytest.approx(2.0 * SIGMA / radius, rel=0.01)
    assert np.ptp(pressure) < 0.01 * pressure.mean()


@pytest.mark.parametrize("cells", [12, 20])
def test_drop_swings_at_lord_rayleighs_frequency(cells):
    """w^2 = n(n-1)(n+2) sigma/(rho R^3), n = 2, R = 5 mm: 10.869 Hz (Lamb art. 275), within 1 %. A
    cosine with an offset, of second order in the amplitude of 5 %, is fitted to one period."""
    radius, stretch = 5e-3, 0.025
    n = round(1.4 * cells)
    grid = uniform_grid(1.4 * radius, -1.4 * radius, 1.4 * radius, n, 2 * n)
    ops, state = tense_tank(grid)
    shape = spheroid(radius * (1.0 - stretch), radius / (1.0 - stretch) ** 2, 0.0)
    fill_outline(ops, state, shape)
    period = 2.0 * np.pi / np.sqrt(8.0 * SIGMA / (DENSITY * radius**3))
    around = 0.5 * (grid.r_f[:-1] ** 2 + grid.r_f[1:] ** 2)
    quadrupole = grid.z_c**2 + grid.dz**2 / 12.0 - 0.5 * around[:, None]
    t, a = [], []
    while state.time < period:
        t.append(state.time / period)
        a.append(float(np.sum(state.water * quadrupole)))
        advance(state, HELD, 0.9 * tension_of(ops).longest_step(state, ops.mesh_of(state)), ops)

    def swing(t, size, frequency, decay, offset):
        return size * np.exp(-decay * t) * np.cos(2.0 * np.pi * frequency * t) + offset

    found, _ = curve_fit(swing, t, np.array(a) / a[0], [1.0, 1.0, 0.0, 0.0])
    print(f"{cells} cells per radius: frequency {found[1]:.4f}, decay {found[2]:.3f} a period")
    assert found[1] == pytest.approx(1.0, rel=0.01)


def test_capillary_gravity_waves_in_a_cylinder():
    """w^2 = (g k + sigma k^3/rho) tanh kh, J1(kR) = 0 (Lamb art. 266, 267), R = h = 5 mm, 90 deg.
    Gravity alone would give 2.3 times the period; within 1 % at 16 cells per radius."""
    radius, cells = 5e-3, 16
    grid = uniform_grid(radius, 0.0, 1.25 * radius, cells, cells * 5 // 4)
    ops, state = tense_tank(grid)
    k = jn_zeros(1, 1)[-1] / radius
    shape, ring = j0(k * grid.r_c), grid.r_c * grid.dr
    level = radius * (1.0 + 0.02 * shape[:, None])
    state.water[:] = np.clip((level - grid.z_f[:-1]) / grid.dz, 0.0, 1.0) * ops.solid.volume
    complete_state(state, ops)
    square = (GRAVITY * k + SIGMA * k**3 / DENSITY) * np.tanh(k * radius)
    period = 2.0 * np.pi / np.sqrt(square)
    body = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    t, a = [], []
    while state.time < 2.2 * period:
        t.append(state.time / period)
        a.append(float(np.sum((state.water.sum(axis=1) / ring - radius) * shape * ring)))
        advance(state, body, 0.7 * tension_of(ops).longest_step(state, ops.mesh_of(state)), ops)
    t, a = np.array(t), np.array(a)
    flips = np.flatnonzero(a[:-1] * a[1:] < 0.0)
    zero = t[flips] - a[flips] * (t[flips + 1] - t[flips]) / (a[flips + 1] - a[flips])
    found = 2.0 * float(np.mean(np.diff(zero)))
    print(f"period over theory {found:.4f}")
    assert found == pytest.approx(1.0, rel=0.01)


@pytest.mark.parametrize("angle", [60.0, 120.0])
def test_water_stands_in_a_thin_tube_as_jurin_says(angle):
    """Mean pressure under the meniscus -2 sigma cos(angle)/R (Jurin), R = 1 mm, within 1 %. And the
    walls feel the weight that hangs on them, 2 pi R sigma cos(angle), with its sign. The motion is
    damped by hand, since only the rest counts."""
    radius, theta = 1e-3, np.radians(angle)
    pressure, lift, rise = tube(8, radius, theta)
    cosine = np.cos(theta)
    print(f"pressure {pressure:.3f} Pa, lift {1e3 * lift:.4f} mN, edge {1e3 * rise:.3f} mm up")
    assert pressure == pytest.approx(-2.0 * SIGMA * cosine / radius, rel=0.01)
    assert lift == pytest.approx(-2.0 * np.pi * radius * SIGMA * cosine, rel=1e-9)
    assert rise * cosine > 0.1 * radius * abs(cosine)
