"""Polygons of revolution: clipping, volume by Pappus and Guldin, placing a plane."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flow_bodies import FloatArray, pappus
from sinkbowl.flow.kernels.polygon import clip, moment, place_plane, rectangle
from sinkbowl.verification.tanks import sphere

SHARE = st.floats(0.0, 1.0)
ANGLE = st.floats(-np.pi, np.pi)
LENGTH = st.floats(1e-4, 1.0)


def volume(points: FloatArray) -> float:
    """Volume of revolution per radian, by the kernel."""
    return float(moment(points, len(points)))


def part(points: FloatArray, angle: float, offset: float) -> FloatArray:
    """Part of a polygon with n.x <= offset, n = (cos angle, sin angle)."""
    out = np.empty((2 * len(points) + 4, 2))
    return out[: clip(points, len(points), np.cos(angle), np.sin(angle), offset, out)]


def box(r0: float, width: float, z0: float, height: float) -> FloatArray:
    out = np.empty((4, 2))
    return out[: rectangle(r0, r0 + width, z0, z0 + height, out)]


def polygon(sides: int, centre: tuple[float, float], radius: float) -> FloatArray:
    """Regular polygon, counter-clockwise."""
    angle = 2.0 * np.pi * np.arange(sides) / sides
    return np.array(centre) + radius * np.column_stack((np.cos(angle), np.sin(angle)))


@pytest.mark.parametrize(
    ("points", "exact"),
    [
        ([[0, 0], [3, 0], [3, 5], [0, 5]], 3**2 * 5 / 2),
        ([[0, 0], [3, 0], [0, 5]], 3**2 * 5 / 6),
        ([[0, 0], [3, 0], [2, 5], [0, 5]], 5 * (9 + 6 + 4) / 6),
        ([[2, 1], [3, 1], [3, 5], [2, 5]], (3**2 - 2**2) * 4 / 2),
    ],
    ids=["cylinder", "cone", "frustum", "ring of square section"],
)
def test_bodies_of_revolution_have_their_closed_form_volume(points, exact):
    """pi R^2 H, pi R^2 H / 3, pi H (a^2 + ab + b^2) / 3, over 2 pi; exact, so round-off only."""
    assert volume(np.array(points, dtype=float)) == pytest.approx(exact, rel=1e-14)


def test_ring_of_round_section_obeys_guldins_rule():
    """Guldin's second rule: area of the section times the path of its centroid. For a regular
    polygon both are exact: n/2 a^2 sin(2 pi / n) about its centre."""
    for sides in (3, 4, 7, 200):
        area = 0.5 * sides * 0.3**2 * np.sin(2.0 * np.pi / sides)
        assert volume(polygon(sides, (1.7, -4.0), 0.3)) == pytest.approx(1.7 * area, rel=1e-13)


def test_sphere_of_many_sides_has_two_thirds_of_the_cubed_radius():
    """4/3 pi a^3 over 2 pi; the chords lose half a step's angle squared at most."""
    points = sphere(0.7, 1001)
    lost = 1.0 - volume(points) / (2.0 / 3.0 * 0.7**3)
    assert 0.0 < lost < 0.5 * (np.pi / 1000) ** 2, f"{lost:.2e}"


@settings(deadline=None)
@given(st.lists(st.tuples(SHARE, SHARE), min_size=3, max_size=3))
def test_triangle_has_its_area_times_the_mean_of_its_radii(corners):
    """Guldin: the centroid of a triangle is the mean of its corners; sign by orientation."""
    points = np.array(corners)
    (a, b), (c, d) = points[1] - points[0], points[2] - points[0]
    exact = 0.5 * (a * d - b * c) * points[:, 0].mean()
    assert volume(points) == pytest.approx(exact, abs=1e-15)


@settings(deadline=None)
@given(LENGTH, LENGTH, SHARE, SHARE, ANGLE, st.floats(-1.5, 1.5))
def test_a_line_cuts_a_rectangle_into_two_parts_that_add_up(width, height, r0, z0, angle, offset):
    """From first principles: volume is additive, and each part lies on its own side."""
    points = box(r0, width, z0, height)
    low = part(points, angle, offset)
    high = part(points, angle + np.pi, -offset)
    whole = volume(points)
    assert volume(low) + volume(high) == pytest.approx(whole, rel=1e-9, abs=1e-15)
    assert volume(low) >= -1e-15
    distance = low @ (np.cos(angle), np.sin(angle)) - offset
    assert np.all(distance <= 1e-15 * 4), distance


def test_clipping_keeps_what_lies_inside_and_drops_what_lies_outside():
    """From first principles; a line along a side leaves all or nothing."""
    points = box(1.0, 2.0, 0.0, 1.0)
    assert np.array_equal(part(points, 0.0, 3.0), points)
    assert np.array_equal(part(points, 0.0, 9.0), points)
    assert volume(part(points, 0.0, 1.0)) == 0.0
    assert len(part(points, 0.0, 0.5)) == 0


def test_clipping_a_section_with_a_gap_keeps_both_legs():
    """A horseshoe cut above its base leaves two rectangles; volumes by Pappus."""
    points = np.array([[1, 0], [6, 0], [6, 3], [5, 3], [5, 1], [2, 1], [2, 4], [1, 4]], float)
    above = part(points, -0.5 * np.pi, -1.5)
    assert volume(above) == pytest.approx(1.5 * 1.0 * 2.5 + 5.5 * 1.0 * 1.5, rel=1e-14)
    assert volume(points) == pytest.approx(pappus(points), rel=1e-14)


@settings(max_examples=300, deadline=None)
@given(LENGTH, LENGTH, SHARE, ANGLE, SHARE)
def test_placed_plane_cuts_off_the_volume_that_was_asked_for(width, height, r0, angle, share):
    """The inverse of clip and moment on rectangles, those on the axis among them. The offset is
    good to round-off in position; a cell of 1e-4 at unit radius then has its share to about 1e-16 /
    1e-4."""
    points = box(r0, width, 0.0, height)
    whole = volume(points)
    c = place_plane(points, 4, np.cos(angle), np.sin(angle), share * whole)
    found = volume(part(points, angle, c)) / whole
    assert found == pytest.approx(share, abs=2e-11), f"missed by {found - share:.1e}"


@settings(deadline=None)
@given(st.integers(3, 7), ANGLE, st.floats(0.0, 0.99), st.floats(0.005, 0.01))
def test_placed_plane_rises_with_the_volume(sides, angle, share, more):
    """From first principles: more water stands higher, whatever the shape of the cell."""
    points = polygon(sides, (0.06, 0.02), 0.05)
    whole = volume(points)
    n = np.cos(angle), np.sin(angle)
    low, high = (place_plane(points, sides, *n, s * whole) for s in (share, share + more))
    assert high > low


def test_placed_plane_stops_at_the_ends_of_the_cell():
    """Nothing or less: at the lowest corner; all or more: at the highest."""
    points = box(0.2, 0.1, -0.3, 0.5)
    whole = volume(points)
    for target, level in ((0.0, -0.3), (-1.0, -0.3), (whole, 0.2), (2.0 * whole, 0.2)):
        assert place_plane(points, 4, 0.0, 1.0, target) == pytest.approx(level, abs=1e-15)
