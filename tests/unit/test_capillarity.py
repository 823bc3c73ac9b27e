"""The gate at the hole and the rim against published and independently computed values."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from cups import cup
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.water import water_at
from sinkbowl.reduced import MODELS
from sinkbowl.statics.capillarity import (
    capillary_length,
    hole_breakthrough_head,
    hole_gate,
    rim_depth,
    rim_lag,
)
from sinkbowl.statics.hydrostatics import displaced_volume

WATER = water_at(293.15)


def light_cup(hole: float, mass: float = 100.0, start: str = "") -> Case:
    """A thin cup 100 mm wide, 60 mm tall; hole in mm, mass in g."""
    return cup(hole, wall=0.5, base=0.5, mass=mass, more=start)


def test_capillary_length_of_water_at_20_degrees():
    """2.726 mm (derived from IAPWS R1-76 and density)."""
    assert capillary_length(WATER) == pytest.approx(2.726e-3, rel=2e-4)


@pytest.mark.parametrize(
    ("diameter", "angle", "head"),
    [
        (1.0, 180.0, 30.06),
        (2.0, 180.0, 15.54),
        (3.0, 180.0, 10.95),
        (1.0, 60.0, 25.89),
        (2.0, 60.0, 13.15),
        (3.0, 60.0, 9.01),
    ],
)
def test_hole_holds_the_head_of_its_steepest_cap(diameter, angle, head):
    """Pinned, or sliding off over a base that wets at 60 degrees; Young-Laplace with gravity.
    Computed independently; static heads to 1 %."""
    found = hole_breakthrough_head(diameter / 1e3, WATER, np.radians(angle)) * 1e3
    assert found == pytest.approx(head, rel=0.01), f"{found:.3f} mm against {head} mm"


@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0])
def test_tiny_hole_follows_the_small_hole_law(angle):
    """4 sigma sin(theta) / (rho g d), exact as d -> 0; gravity adds about d/6 here."""
    d = 0.05e-3
    exact = 4.0 * WATER.surface_tension * np.sin(np.radians(angle)) / (WATER.density * GRAVITY * d)
    found = hole_breakthrough_head(d, WATER, np.radians(angle))
    assert found == pytest.approx(exact, rel=1e-3)


@pytest.mark.parametrize(("diameter", "head"), [(1.0, 29.72), (2.0, 14.86), (3.0, 9.91)])
def test_pinned_cap_holds_hardly_more_than_the_head_of_its_curvature(diameter, head):
    """4 sigma / (rho g d) at 20 degC (derived): half a sphere; the weight of its water adds d/3.
    The weight of a half sphere spread over the hole is a head of d/3, on top; what gravity takes
    from its curvature is of the next order in d, and stays below another d/3 here."""
    assert 4e3 * capillary_length(WATER) ** 2 / (diameter * 1e-3) == pytest.approx(head, abs=5e-3)
    held = hole_breakthrough_head(diameter / 1e3, WATER, np.pi) * 1e3
    assert head + diameter / 3.0 < held + 5e-3 < head + diameter * 2.0 / 3.0, f"{held:.3f} mm"


def test_wide_hole_holds_the_depth_of_a_puddle():
    """2 l sin(theta / 2): the straight edge (derived); a 200 mm hole still bends by 2 %."""
    found = hole_breakthrough_head(0.2, WATER, np.radians(60.0))
    assert found == pytest.approx(2.0 * capillary_length(WATER) * 0.5, rel=0.02)
    assert found > 2.0 * capillary_length(WATER) * 0.5


def test_wider_hole_holds_less():
    """Monotonic for any angle (common sense, no source)."""
    for angle in (20.0, 60.0, 120.0):
        heads = [hole_breakthrough_head(d, WATER, np.radians(angle)) for d in (1e-3, 3e-3, 9e-3)]
        assert np.all(np.diff(heads) < 0.0), f"{angle} degrees: {heads}"


def test_fully_wetting_base_holds_nothing_and_its_bowl_starts_by_itself():
    """Contact angle 0: the water spreads by itself, however narrow the hole."""
    assert hole_breakthrough_head(1e-3, WATER, 0.0) == 0.0
    assert rim_lag(0.05, WATER, 0.0) == 0.0
    case = light_cup(0.3, start='[water]\ncontact_angle = "0 deg"')
    gate = hole_gate(case)
    assert (gate.breakthrough_head, gate.plugged) == (0.0, False)
    assert MODELS["quasi-static"](case).sinking_time is not None


@pytest.mark.parametrize(("angle", "depth"), [(60.0, 2.726), (90.0, 3.855), (180.0, 5.452)])
def test_wide_rim_floods_at_the_depth_of_a_straight_one(angle, depth):
    """2 l sin(psi / 2) (derived); a rim of 1 m radius is straight to 0.2 %."""
    found = rim_lag(1.0, WATER, np.radians(angle)) * 1e3
    assert found == pytest.approx(depth, rel=2e-3), f"{found:.4f} mm"


def test_pinned_disc_sinks_to_its_published_depth_and_load():
    """Radius 10 mm, psi = 90 degrees: 3.454 mm and 1.549 g (Young-Laplace, computed), 1 %. The load
    is the water missing above the disc and the pull of the surface around it."""
    depth = rim_lag(0.01, WATER, np.radians(90.0))
    assert depth * 1e3 == pytest.approx(3.454, rel=0.01), f"{depth * 1e3:.4f} mm"
    load = WATER.density * np.pi * 0.01**2 * depth
    load += 2.0 * np.pi * 0.01 * WATER.surface_tension / GRAVITY
    assert load * 1e3 == pytest.approx(1.549, rel=0.01), f"{load * 1e3:.4f} g"


def test_rim_meniscus_dies_out_far_away():
    """Integrated outwards from the rim, independently of the shooting: flat after 7 lengths."""
    radius, slope = 5.0, np.radians(70.0)
    depth = rim_depth(radius, slope)

    def outwards(_: float, y: np.ndarray) -> list[float]:
        r, z, phi = y
        return [np.cos(phi), -np.sin(phi), -z - np.sin(phi) / r]

    solution = solve_ivp(outwards, (0.0, 7.0), [radius, depth, slope], rtol=1e-11, atol=1e-13)
    assert abs(solution.y[1, -1]) < 5e-3 * depth, f"{solution.y[1, -1]:.2e}"


def test_wide_hole_is_open_and_needs_no_push_and_a_bowl_too_heavy_to_float_is_not_plugged():
    gate = hole_gate(light_cup(8.0))
    assert (gate.plugged, gate.missing_head, gate.push_impulse) == (False, 0.0, 0.0)
    assert not hole_gate(light_cup(2.0, mass=600.0)).plugged


def test_push_is_force_on_the_waterplane_and_energy_of_a_spring():
    """Straight wall: F = rho g A x, impulse = x sqrt(rho g A (m + m_a)) (exact oscillator). x is
    the missing head, m_a = 4/3 rho R^3 of a surface disc (Lamb)."""
    case = light_cup(1.0)
    gate = hole_gate(case)
    assert gate.plugged
    spring = case.water.density * GRAVITY * np.pi * 0.05**2
    moving = 0.1 + 4.0 / 3.0 * case.water.density * 0.05**3
    x = gate.breakthrough_head - gate.head
    assert gate.missing_head == pytest.approx(x)
    assert gate.push_force == pytest.approx(spring * x, rel=1e-9)
    assert gate.push_impulse == pytest.approx(x * np.sqrt(spring * moving), rel=1e-7)
    draft = gate.breakthrough_head + case.bowl.inner_edge_height
    lifted = case.water.density * displaced_volume(case, draft)
    assert gate.push_force == pytest.approx(GRAVITY * (lifted - 0.1), rel=1e-9)


@pytest.mark.parametrize("share", [1e-2, 1e-5, 1e-8, 1e-12, 1e-15])
def test_hardly_missing_head_takes_the_push_of_a_spring(share):
    """Impulse x sqrt(k M) as above, down to a missing head of round-off and without a warning. The
    energy is a difference of larger ones, m g D, which leaves their round-off."""
    needed = hole_breakthrough_head(1.0e-3, WATER, np.radians(60.0))
    buoyancy = WATER.density * np.pi * 0.05**2
    mass = buoyancy * (needed * (1.0 - share) + 0.5e-3)
    gate = hole_gate(light_cup(1.0, mass=1e3 * mass))
    assert gate.plugged or share < 1e-14
    moving = mass + 4.0 / 3.0 * WATER.density * 0.05**3
    exact = gate.missing_head * np.sqrt(GRAVITY * buoyancy * moving)
    round_off = np.sqrt(2.0 * moving * 4.0 * np.finfo(float).eps * mass * GRAVITY * needed)
    assert gate.push_impulse == pytest.approx(exact, rel=1e-6, abs=round_off), f"{gate}"


def test_tiny_hole_lets_the_rim_go_under_first():
    """A 0.4 mm hole holds 65 mm of head, more than the cup is tall."""
    gate = hole_gate(light_cup(0.4))
    assert gate.under_first
    assert gate.push_force > 0.0


@pytest.mark.parametrize("angle", [-0.1, 3.2, np.nan])
def test_impossible_contact_angle_is_refused(angle):
    with pytest.raises(ValueError, match="contact angle"):
        hole_breakthrough_head(1e-3, WATER, angle)


def test_hole_without_width_and_hairline_rim_are_refused():
    with pytest.raises(ValueError, match="diameter"):
        hole_breakthrough_head(0.0, WATER, 1.0)
    with pytest.raises(ValueError, match="capillary length"):
        rim_lag(1e-3, WATER, 1.0)
