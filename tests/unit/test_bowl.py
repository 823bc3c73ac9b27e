"""Bowl geometry against closed forms, independent quadrature and random outlines."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from random_bowls import sections
from sinkbowl.bowl import shapes
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.blank import Blank
from sinkbowl.common.errors import InputRefused

R, H, W = 0.05, 0.06, 0.002


def bowl_of(section: shapes.Outlines, hole_radius: float = 0.0, mass: float = 0.2) -> Bowl:
    return Bowl.from_outlines(*shapes.drill(section, hole_radius), mass)


def test_cup_has_the_volume_of_its_cylinders():
    """Cylinders; exact, so the tolerance is round-off."""
    bowl = bowl_of(shapes.cup(R, H, W, W), 0.01)
    solid = np.pi * (R**2 * H - (R - W) ** 2 * (H - W) - 0.01**2 * W)
    assert bowl.solid_volume == pytest.approx(solid, rel=1e-13)
    capacity = np.pi * ((R - W) ** 2 * (H - W) + 0.01**2 * W)
    assert bowl.inner_capacity == pytest.approx(capacity, rel=1e-13)
    assert bowl.base_thickness == pytest.approx(W)


def test_cone_has_the_volume_of_its_frusta():
    """Frustum pi h (a^2 + a b + b^2) / 3; the wall is thick square to itself."""
    bowl = bowl_of(shapes.cone(0.06, 0.04, 0.05, 0.005, 0.006))
    slant = np.hypot(0.02, 0.05) / 0.05 * 0.005
    a, b, h = 0.04 + 0.02 * 0.006 / 0.05 - slant, 0.06 - slant, 0.044
    inner = np.pi * h * (a * a + a * b + b * b) / 3
    outer = np.pi * 0.05 * (0.04**2 + 0.04 * 0.06 + 0.06**2) / 3
    assert bowl.inner_capacity == pytest.approx(inner, rel=1e-13)
    assert bowl.solid_volume == pytest.approx(outer - inner, rel=1e-12)


@pytest.mark.parametrize("height", [0.02, 0.04, 0.05, 0.08])
def test_cap_polyline_is_right_to_a_hundred_thousandth(height):
    """Spherical cap pi h^2 (3 S - h) / 3; 1e-5 is the promise of the interface."""
    bowl = bowl_of(shapes.cap(R, height, 0.003))
    sphere = (R**2 + height**2) / (2 * height)

    def volume(s: float, h: float) -> float:
        return np.pi * h * h * (3 * s - h) / 3

    outer, inner = volume(sphere, height), volume(sphere - 0.003, height - 0.003)
    errors = (
        float(bowl.outer_volume(height)) / outer - 1,
        bowl.inner_capacity / inner - 1,
        bowl.solid_volume / (outer - inner) - 1,
    )
    print("relative errors", errors)
    assert max(map(abs, errors)) < 1e-5


def test_centroid_of_a_hemispherical_shell_lies_where_it_should():
    """Shell between hemispheres a < b: 3/8 (b^4 - a^4) / (b^3 - a^3) below the flat rim (standard
    integral); 1e-5 for the polyline."""
    bowl = bowl_of(shapes.cap(R, R, 0.004))
    a = R - 0.004
    below = 3 / 8 * (R**4 - a**4) / (R**3 - a**3)
    assert R - bowl.centroid_z == pytest.approx(below, rel=1e-5)


def test_hole_cuts_a_cap_upright_and_the_frame_follows_its_lowest_point():
    """Sphere z = S - sqrt(S^2 - r^2) at the hole's radius, inner and outer; 1e-7 m chord error."""
    hole, wall, height = 0.02, 0.003, 0.04
    bowl = bowl_of(shapes.cap(R, height, wall), hole)
    sphere = (R**2 + height**2) / (2 * height)
    sagitta = sphere - np.sqrt(sphere**2 - hole**2)
    inner = sphere - np.sqrt((sphere - wall) ** 2 - hole**2)
    assert bowl.outer[0] == pytest.approx([hole, 0.0], abs=1e-12)
    assert bowl.rim_height == pytest.approx(height - sagitta, abs=1e-7)
    assert bowl.base_thickness == pytest.approx(inner - sagitta, abs=2e-7)
    assert bowl.hole_radius == hole


@settings(max_examples=60, deadline=None)
@given(sections(), st.floats(0.0, 1.0))
def test_volumes_of_random_bowls_agree_with_quadrature(section, share):
    """Pappus and Green against adaptive quadrature of pi r(z)^2 (scipy.integrate.quad); 1e-9 is
    the quadrature's own tolerance."""
    outer, inner = section
    bowl = Bowl.from_outlines(outer, inner, 0.1)
    z = share * bowl.rim_height

    def integral(line: np.ndarray, power: int) -> float:
        def area(x: float) -> float:
            return np.pi * np.interp(x, line[:, 1], line[:, 0]) ** 2 * x**power

        ends = [*(k for k in line[:, 1] if k < z), z]
        return sum(quad(area, a, b, epsabs=1e-16)[0] for a, b in pairwise(ends))

    wall = outer[1:]
    cavity = inner[1:]
    plug = np.pi * outer[0, 0] ** 2 * min(z, cavity[0, 1])
    assert float(bowl.outer_volume(z)) == pytest.approx(integral(wall, 0), rel=1e-9, abs=1e-15)
    assert float(bowl.inner_volume(z)) == pytest.approx(
        plug + integral(cavity, 0), rel=1e-9, abs=1e-15
    )
    assert float(bowl.outer_hull.moment_below(z)) == pytest.approx(
        integral(wall, 1), rel=1e-9, abs=1e-17
    )


@settings(max_examples=60, deadline=None)
@given(sections(), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_inner_level_undoes_inner_volume(section, shares):
    """Identity; 1e-9 m, as the level is a root and the hole's plug is narrow."""
    bowl = Bowl.from_outlines(*section, 0.1)
    z = np.array(shares) * bowl.rim_height
    assert bowl.inner_level(bowl.inner_volume(z)) == pytest.approx(z, abs=1e-9)


def test_levels_outside_the_bowl_are_its_bottom_and_its_rim():
    bowl = bowl_of(shapes.cup(R, H, W, W), 0.01)
    assert bowl.inner_level([-1.0, 1.0]) == pytest.approx([0.0, H])
    assert bowl.inner_volume([-1.0, 1.0]) == pytest.approx([0.0, bowl.inner_capacity])
    assert bowl.outer_hull.waterplane([-1e-6, 0.0, H, H + 1e-6]) == pytest.approx(
        [0.0, np.pi * R**2, np.pi * R**2, 0.0]
    )


def test_foot_ring_counts_what_hangs_below_the_hole():
    """Washer of 20 to 25 mm below a base at 3 mm: pi (R^2 - r^2) z."""
    outer = [(0.005, 0.003), (0.02, 0.003), (0.02, 0.0), (0.025, 0.0), (0.025, 0.003), (0.05, 0.03)]
    inner = [(0.005, 0.005), (0.024, 0.005), (0.047, 0.03)]
    bowl = Bowl.from_outlines(outer, inner, 0.1)
    washer = np.pi * (0.025**2 - 0.02**2)
    assert float(bowl.outer_volume(0.002)) == pytest.approx(washer * 0.002)
    assert float(bowl.outer_hull.waterplane(0.002)) == pytest.approx(washer)
    assert float(bowl.inner_volume(0.002)) == 0.0
    inertia = np.pi / 4 * (0.025**4 - 0.02**4)
    assert float(bowl.outer_hull.waterplane_inertia(0.001)) == pytest.approx(inertia)


def test_straight_walls_give_grid_lines_and_curved_ones_do_not():
    cup = bowl_of(shapes.cup(R, H, W, W), 0.01)
    assert cup.straight_r == pytest.approx((0.01, R - W, R))
    assert cup.straight_z == pytest.approx((0.0, W, H))
    cap = bowl_of(shapes.cap(R, 0.04, 0.003), 0.01)
    assert cap.straight_r == pytest.approx((0.01,))
    assert cap.straight_z == pytest.approx((0.0, cap.rim_height))
    cone = bowl_of(shapes.cone(0.06, 0.04, 0.05, 0.005, 0.006), 0.01)
    assert cone.straight_r == pytest.approx((0.01,))
    assert cone.straight_z == pytest.approx((0.0, 0.006, 0.05))


def test_polygon_runs_counter_clockwise_around_the_section():
    """Shoelace area of the cup's section: wall and base strips."""
    polygon = bowl_of(shapes.cup(R, H, W, W), 0.01).polygon
    following = np.roll(polygon, -1, axis=0)
    area = 0.5 * np.sum(polygon[:, 0] * following[:, 1] - polygon[:, 1] * following[:, 0])
    assert area == pytest.approx(W * (H - W) + W * (R - 0.01))


def test_offset_of_a_spherical_outline_is_the_concentric_sphere():
    """Parallel curve of a circle; 1e-7 m is the chord error of the polyline."""
    height, wall = 0.04, 0.003
    sphere = (R**2 + height**2) / (2 * height)
    inner = shapes.offset_inwards(shapes.cap(R, height, wall).outer, wall)
    distance = np.hypot(inner[:, 0], inner[:, 1] - sphere)
    print("largest deviation [m]", np.abs(distance - (sphere - wall)).max())
    assert distance == pytest.approx(sphere - wall, abs=1e-7)


def test_offset_leaves_out_a_fillet_that_is_tighter_than_the_wall():
    """A cup whose outer corner is rounded with 1 mm is, inside a 2 mm wall, a sharp cup."""
    turn = np.linspace(0, np.pi / 2, 20)
    fillet = np.column_stack((0.049 + 0.001 * np.sin(turn), 0.001 - 0.001 * np.cos(turn)))
    inner = shapes.profile(np.vstack(([0, 0], fillet, [R, H])), W).inner
    assert inner == pytest.approx(shapes.cup(R, H, W, W).inner, abs=1e-12)


def test_outline_from_the_holes_edge_is_continued_flat_so_that_smaller_holes_can_be_tried():
    outline = np.array([(0.02, 0.0), (R, 0.0), (R, H)])
    section = shapes.profile(outline, W)
    assert bowl_of(section, 0.005).solid_volume == pytest.approx(
        bowl_of(shapes.cup(R, H, W, W), 0.005).solid_volume
    )


def test_base_gone_leaves_the_wall_alone():
    """Hollow cylinder pi (R^2 - r^2) H; the frame's inner edge stays at the base's height."""
    section = shapes.cup(R, H, W, W)
    blank = Blank(section, mass=None, density=1000.0, base_radius=R - W)
    bowl = blank.drilled(2 * (R - W) - 1e-7)
    assert blank.takes_base_away(2 * (R - W) - 1e-7)
    assert not blank.takes_base_away(0.0959)
    assert bowl.solid_volume == pytest.approx(np.pi * (R**2 - (R - W) ** 2) * H)
    assert bowl.mass == pytest.approx(1000.0 * bowl.solid_volume)
    assert bowl.base_thickness == pytest.approx(W)


def test_narrow_ring_of_base_is_left_by_a_hole_just_short_of_it():
    blank = Blank(shapes.cup(R, H, W, W), mass=0.2, density=None, base_radius=R - W)
    bowl = blank.drilled(0.092)
    ring = np.pi * ((R - W) ** 2 - 0.046**2) * W
    assert bowl.solid_volume == pytest.approx(np.pi * (R**2 - (R - W) ** 2) * H + ring)


@pytest.mark.parametrize(
    ("outer", "inner", "mass", "says"),
    [
        ([(0, 0), (1, 0), (1, 1)], [(0, 0.1), (0.9, 0.1), (0.9, 1)], 0.0, "mass"),
        ([(0, 0), (1, 0), (1, 1)], [(0, 0.1), (0.9, 0.1), (0.9, 1)], np.nan, "mass"),
        ([(0, 0), (1, 0), (1, 1)], [(0.1, 0.1), (0.9, 0.1), (0.9, 1)], 1.0, "hole"),
        ([(0, 0), (1, 0), (1, 1)], [(0, 0.1), (0.9, 0.1), (0.9, 0.8)], 1.0, "rim"),
        ([(0, 0), (1, 0), (1, 1)], [(0, 0.1), (1.2, 0.5), (0.9, 1)], 1.0, "cross"),
        ([(0, 0.1), (0.9, 0.1), (0.9, 1)], [(0, 0), (1, 0), (1, 1)], 1.0, "inside"),
        ([(0, 0), (-1, 0), (1, 1)], [(0, 0.1), (0.9, 1)], 1.0, "r >= 0"),
        ([(0, 0)], [(0, 0.1), (0.9, 1)], 1.0, "two points"),
        ([(0, 0), (1, 0)], [(0, 0), (0.9, 0)], 1.0, "height"),
    ],
)
def test_outlines_that_make_no_bowl_are_refused(outer, inner, mass, says):
    with pytest.raises(ValueError, match=says):
        Bowl.from_outlines(outer, inner, mass)


def test_outline_that_bends_tighter_than_the_wall_allows_is_refused():
    """A waist of 4 mm radius has no room for a 5 mm wall."""
    waist = np.array([(0, 0), (0.03, 0.0), (0.004, 0.02), (0.03, 0.04)])
    with pytest.raises(InputRefused, match="too thick for the bend") as caught:
        shapes.profile(waist, 0.005)
    assert caught.value.key == "wall"
