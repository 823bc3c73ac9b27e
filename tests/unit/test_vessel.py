"""The fast volumes of the reduced models against hydrostatics, and what they make of any bowl."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sinkbowl.case.case import Case, parse_case
from sinkbowl.reduced import MODELS
from sinkbowl.statics.hydrostatics import displaced_volume, water_inside
from sinkbowl.statics.vessel import Vessel

SHAPES = {
    "cup": 'shape = "cup"\nwall = "4 mm"\nbase = "3 mm"',
    "cone": 'shape = "cone"\nbase_radius = "35 mm"\nwall = "4 mm"\nbase = "3 mm"',
    "cap": 'shape = "cap"\nwall = "4 mm"',
}

RINGS = {
    "none": "",
    "under": "-8 mm",
    "inside": "14 mm",
}


def bowl(shape: str, ring: str = "none") -> Case:
    """A bowl 100 mm wide and 55 mm tall with a 12 mm hole and perhaps a ballast ring."""
    ballast = f"""
        [ballast]
        mass = "60 g"
        radius = "22 mm"
        height = "{RINGS[ring]}"
        density = "8500 kg/m^3"
        """
    text = f"""
        [bowl]
        radius = "50 mm"
        height = "55 mm"
        mass = "180 g"
        {SHAPES[shape]}
        [hole]
        diameter = "12 mm"
        {ballast if RINGS[ring] else ""}
        """
    return parse_case(text, Path(), "bowl")


@pytest.mark.parametrize("ring", RINGS)
@pytest.mark.parametrize("shape", SHAPES)
def test_volumes_are_those_of_hydrostatics(shape, ring):
    """Same outlines, same numbers to round-off; areas are their derivatives (central, 1e-5)."""
    case = bowl(shape, ring)
    vessel = Vessel(case)
    for z in np.linspace(0.006, 0.054, 13):
        assert vessel.displaced(z) == pytest.approx(displaced_volume(case, z), rel=1e-12)
        assert vessel.water(z) == pytest.approx(water_inside(case, z), rel=1e-12)
        step = 1e-7
        slope = (vessel.displaced(z + step) - vessel.displaced(z - step)) / (2.0 * step)
        assert float(vessel.outer.area(z)) == pytest.approx(slope, rel=1e-5)
        slope = (vessel.water(z + step) - vessel.water(z - step)) / (2.0 * step)
        assert vessel.water_area(z) == pytest.approx(slope, rel=1e-5)
    assert vessel.hull_volume == pytest.approx(displaced_volume(case, vessel.rim), rel=1e-12)


def test_dry_space_above_the_rim_carries_like_the_hull():
    vessel = Vessel(bowl("cup"))
    more = vessel.displaced(vessel.rim + 0.003) - vessel.displaced(vessel.rim)
    assert more == pytest.approx(0.003 * np.pi * 0.05**2, rel=1e-9)


def test_flat_base_counts_as_a_disc_and_a_hemisphere_as_itself():
    """Depth of the equivalent half spheroid: 0 for a cup, the radius for a hemisphere (exact)."""
    assert Vessel(bowl("cup")).outside(0.03).depth == pytest.approx(0.0, abs=1e-12)
    text = """
        [bowl]
        shape = "cap"
        radius = "50 mm"
        height = "50 mm"
        wall = "2 mm"
        mass = "150 g"
        [hole]
        diameter = "0.5 mm"
        """
    outside = Vessel(parse_case(text, Path(), "cap")).outside(0.05)
    assert outside.depth == pytest.approx(0.05, rel=1e-3)
    assert outside.inertia.bowl == pytest.approx(np.pi / 3 * 998.2072 * 0.05**3, rel=1e-3)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    shape=st.sampled_from(["cup", "cone", "cap"]),
    density=st.floats(500.0, 9000.0),
    hole=st.floats(1.0, 60.0),
    start=st.sampled_from(
        [
            'kind = "set down"',
            'kind = "push"\npush = "0.2 N s"',
            'kind = "drop"\ndrop_height = "5 cm"',
        ]
    ),
)
def test_any_bowl_comes_to_an_end_with_finite_numbers(shape, density, hole, start):
    """Whatever it does: time runs forward, nothing is lost, no more water than fits."""
    text = f"""
        [bowl]
        radius = "50 mm"
        height = "55 mm"
        density = "{density} kg/m^3"
        {SHAPES[shape]}
        [hole]
        diameter = "{hole} mm"
        [start]
        {start}
        """
    case = parse_case(text, Path(), "bowl")
    for name, solve in MODELS.items():
        sinking = solve(case)
        columns = (sinking.draft, sinking.speed, sinking.inner_volume, sinking.inner_level)
        for column in (*columns, sinking.head, sinking.hole_flow):
            assert column.shape == sinking.t.shape
            assert np.all(np.isfinite(column)), name
        assert np.all(np.diff(sinking.t) > 0.0), name
        assert sinking.inner_volume.max() <= case.bowl.inner_capacity * (1.0 + 1e-9), name
        level = sinking.draft - case.bowl.inner_edge_height - sinking.inner_level
        assert np.allclose(sinking.head, level, rtol=0.0, atol=1e-12), name
        assert sinking.outcome
