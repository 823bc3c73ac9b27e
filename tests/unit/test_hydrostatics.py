"""Drafts, verdicts and missing ballast against closed forms; the models' fast volumes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cups import cup, ring_text
from random_bowls import sections
from sinkbowl.bowl.ballast import Ring
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.case.case import Case
from sinkbowl.reduced import MODELS
from sinkbowl.statics import hydrostatics as hs
from sinkbowl.statics.hydrostatics import displaced_volume, water_inside
from sinkbowl.statics.vessel import Vessel

SHAPES = {"cup": {"base": 3}, "cone": {"base": 3, "base_radius": 35}, "cap": {}}

RINGS = {"none": "", "under": ring_text(60, 22, -8), "inside": ring_text(60, 22, 14)}


def head_at(case: Case, inner_level: float) -> float:
    """Head [m] at rest: the outer level above the inner one."""
    return hs.draft_at(case, inner_level) - case.bowl.inner_edge_height - inner_level


def test_plugged_cup_floats_at_its_archimedes_draft():
    """m / (rho pi R^2): 25.511 mm for 0.2 kg on 50 mm at 998.2 kg/m^3, as in the published check
    of a thin straight cylinder; its digits set the tolerance."""
    draft = hs.dry_draft(cup())
    print("draft", draft)
    assert draft == pytest.approx(0.025511, abs=1e-6)


def test_half_a_floating_hemisphere_is_displaced_as_archimedes_says():
    """Cap h of a sphere displaces pi h^2 (3 S - h) / 3; 1e-5 for the polyline."""
    h = 0.03
    mass = cup().water.density * np.pi * h**2 * (0.15 - h) / 3
    case = cup(0.1, shape="cap", height=50, wall=1, mass=f"{mass * 1e3:.12g} g")
    assert hs.dry_draft(case) == pytest.approx(h, rel=1e-5)


@pytest.mark.parametrize("level", [0.0, 0.01, 0.03])
def test_head_of_an_upright_cup_falls_as_the_closed_form_says(level):
    """Head = m / (rho A_o) - t_b - h (1 - A_i / A_o) up to the plug of water in the hole, which
    weighs a t_b / A_o more (design's closed form, derived)."""
    case = cup()
    a_o, a_i = np.pi * 0.05**2, np.pi * 0.048**2
    plug = np.pi * 0.01**2 * 0.002 / a_o
    dry = 0.2 / (case.water.density * a_o) - 0.002
    assert head_at(case, level) == pytest.approx(dry + plug - level * (1 - a_i / a_o), rel=1e-10)


def test_cup_that_is_too_heavy_has_no_draft():
    """Its hull displaces 470 g at the rim."""
    case = cup(mass=471)
    assert hs.dry_draft(case) is None
    assert hs.start_head(case) is None
    assert hs.dry_draft(cup(mass=470)) is not None


def test_bowl_of_light_wood_stops_part_sunk_at_its_volumes_share():
    """Levels equal: the submerged solid weighs what the whole does, V_s(D) = m / rho."""
    case = cup(density="700 kg/m^3")
    final = hs.final_draft(case)
    assert hs.floats(case)
    submerged = float(case.bowl.solid_volume_below(final))
    assert submerged == pytest.approx(case.bowl.mass / case.water.density, rel=1e-12)
    level = final - case.bowl.inner_edge_height
    assert head_at(case, level) == pytest.approx(0.0, abs=1e-12)
    assert hs.final_draft(cup()) is None
    assert not hs.floats(cup())


@pytest.mark.parametrize("density", [2700.0, 8500.0])
def test_needed_ballast_brings_the_mean_density_to_the_waters(density):
    """Definition of mean density, with the ballast's own volume."""
    case = cup(density="700 kg/m^3")
    extra = hs.ballast_needed(case, density)
    mean = (case.total_mass + extra) / (hs.solid_volume(case) + extra / density)
    assert mean == pytest.approx(case.water.density, rel=1e-12)
    with pytest.raises(ValueError, match="floats"):
        hs.ballast_needed(case, 500.0)


def test_ring_under_the_base_adds_its_weight_less_its_buoyancy():
    """Draft of the cup alone plus m_b (1 - rho / rho_b) / (rho A)."""
    case, bare = cup(more=ring_text(45, 30, -4)), cup()
    rho = case.water.density
    deeper = 0.045 * (1 - rho / 8500) / (rho * np.pi * 0.05**2)
    dry, bare_dry = hs.dry_draft(case), hs.dry_draft(bare)
    assert not case.inner_ballast.pieces
    assert dry - bare_dry == pytest.approx(deeper, rel=1e-9)


def test_ring_in_the_bowl_displaces_no_outer_water_but_inner_water():
    """Dry: full weight m_b / (rho A); once covered, its own buoyancy is felt through the water it
    keeps out."""
    inside, bare = cup(more=ring_text(45, 30, 6)), cup()
    assert not inside.outer_ballast.pieces
    assert inside.ballast
    rho, area = inside.water.density, np.pi * 0.05**2
    dry, bare_dry = hs.dry_draft(inside), hs.dry_draft(bare)
    assert dry - bare_dry == pytest.approx(0.045 / (rho * area), rel=1e-9)
    covered, bare_covered = hs.draft_at(inside, 0.02), hs.draft_at(bare, 0.02)
    weight = 0.045 / rho - inside.ballast.volume
    assert covered - bare_covered == pytest.approx(weight / area, rel=1e-9)


def test_ring_volume_is_that_of_a_torus_and_half_of_it_lies_below_its_centre():
    """2 pi^2 R a^2 (Pappus); first moment of the lower half -(4/3) a^3 / 2 per length."""
    (ring,) = cup(more=ring_text(45, 30, -4)).outer_ballast.pieces
    assert isinstance(ring, Ring)
    a = ring.section_radius
    assert 2 * np.pi**2 * 0.03 * a**2 == pytest.approx(0.045 / 8500)
    assert ring.volume_below(ring.height) == pytest.approx(ring.volume / 2)
    below = ring.height * ring.volume / 2 - 2 * np.pi * 0.03 * 2 / 3 * a**3
    assert ring.moment_below(ring.height) == pytest.approx(below)
    assert ring.volume_below(1.0) == pytest.approx(ring.volume)
    assert ring.volume_below(-1.0) == 0.0


@settings(max_examples=40, deadline=None)
@given(
    st.floats(10, 450),
    st.floats(20, 90),
    st.floats(10, 120),
    st.lists(st.floats(0, 1), min_size=2, max_size=2, unique=True),
)
def test_draft_rises_and_head_falls_with_every_drop_inside(mass, radius, height, shares):
    """Monotone: A_i < A_o, so the water inside pushes the bowl down by less than it rises."""
    assume(radius > 12)
    case = cup(mass=mass, radius=radius, height=height)
    low, high = sorted(share * (height - 3) * 1e-3 for share in shares)
    assume(high - low > 1e-6)
    drafts = hs.draft_at(case, low), hs.draft_at(case, high)
    if drafts[1] is None:
        return
    assert drafts[1] > drafts[0]
    heads = head_at(case, low), head_at(case, high)
    assert heads[1] < heads[0]


@settings(max_examples=30, deadline=None)
@given(st.floats(10, 200), st.floats(10, 200))
def test_heavier_bowls_float_deeper(first, second):
    light, heavy = sorted((first, second))
    assume(heavy - light > 1e-6)
    drafts = [hs.dry_draft(cup(mass=f"{mass:.12g} g")) for mass in (light, heavy)]
    assert drafts[1] > drafts[0]


@settings(max_examples=40, deadline=None)
@given(
    sections(),
    st.floats(0.05, 0.9),
    st.lists(st.floats(0.0, 1.0), min_size=2, max_size=2, unique=True),
)
def test_any_bowl_floats_deeper_with_every_drop_inside_and_with_every_gram(section, load, shares):
    """Archimedes for any outline: the hull displaces bowl and water, so its draft rises with both.
    The draft is a root of that balance, to 1e-9 of the mass."""
    bowl = Bowl.from_outlines(*section, 0.1)
    rho = cup().water.density
    mass = load * rho * bowl.outer_volume(bowl.rim_height)
    plain = cup()
    case = replace(plain, bowl=Bowl.from_outlines(*section, float(mass)))
    heavier = replace(plain, bowl=Bowl.from_outlines(*section, 1.05 * float(mass)))
    low, high = sorted(share * (bowl.rim_height - bowl.inner_edge_height) for share in shares)
    assume(high - low > 1e-6)
    shallow, deep = hs.draft_at(case, low), hs.draft_at(case, high)
    assert shallow is not None or deep is None
    if shallow is not None:
        afloat = mass + rho * hs.water_inside(case, bowl.inner_edge_height + low)
        assert rho * hs.displaced_volume(case, shallow) == pytest.approx(afloat, rel=1e-9)
        loaded = hs.draft_at(heavier, low)
        assert loaded is None or loaded > shallow
        assert deep is None or deep > shallow


def bowl(shape: str, ring: str = "none") -> Case:
    """A bowl 100 mm wide and 55 mm tall with a 12 mm hole and perhaps a ballast ring."""
    return cup(12, shape=shape, height=55, wall=4, mass=180, more=RINGS[ring], **SHAPES[shape])


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
    outside = Vessel(cup(0.5, shape="cap", height=50, mass=150)).outside(0.05)
    assert outside.depth == pytest.approx(0.05, rel=1e-3)
    assert outside.inertia.bowl == pytest.approx(np.pi / 3 * 998.2072 * 0.05**3, rel=1e-3)


STARTS = [
    'kind = "set down"',
    'kind = "push"\npush = "0.2 N s"',
    'kind = "drop"\ndrop_height = "5 cm"',
]


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    shape=st.sampled_from(["cup", "cone", "cap"]),
    density=st.floats(500.0, 9000.0),
    hole=st.floats(1.0, 60.0),
    start=st.sampled_from(STARTS),
)
def test_any_bowl_comes_to_an_end_with_finite_numbers(shape, density, hole, start):
    """Whatever it does: time runs forward, nothing is lost, no more water than fits."""
    sizes = {"height": 55, "wall": 4, "density": f"{density} kg/m^3"} | SHAPES[shape]
    case = cup(hole, shape=shape, more=f"[start]\n{start}", **sizes)
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
