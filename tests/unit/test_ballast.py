"""Washers and bands of putty besides rings: closed forms, several at once, room, colours."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from sinkbowl.bowl.ballast import Ballast, Ring, Tube, outlines_of
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import CaseError
from sinkbowl.design.checking import check
from sinkbowl.design.sizing.design_variable import ballast_setting, hole_setting
from sinkbowl.reduced import heave
from sinkbowl.statics.hydrostatics import displaced_volume, dry_draft, mean_density, water_inside
from sinkbowl.statics.stability import centre_of_weight, metacentric_height
from sinkbowl.statics.vessel import Vessel
from sinkbowl_post.drawing import by_density, solids_of
from trials import BASE, CASE_TEXT, HEIGHT, MASS, RADIUS, WALL

WASHER = """
[[ballast]]
shape = "washer"
inner_diameter = "20 mm"
outer_diameter = "40 mm"
thickness = "2 mm"
height = "-1 mm"
density = "7850 kg/m3"
"""
BAND = """
[[ballast]]
shape = "band"
mass = "30 g"
radius = "50 mm"
width = "8 mm"
height = "12 mm"
density = "1,8 g/cm3"
"""
RING = """
[[ballast]]
mass = "12 g"
radius = "30 mm"
height = "-4 mm"
density = "8500 kg/m^3"
"""
PIECES = (Tube(0.03, 0.01, 0.02, -0.001, 0.002), Ring(0.06, 0.03, -0.004, 8500.0))


def loaded(*tables: str) -> Case:
    return parse_case(CASE_TEXT + "".join(tables), Path(), "cup.toml")


@pytest.mark.parametrize("piece", PIECES)
def test_volume_and_moments_are_integrals_of_the_area(piece):
    """And all of it by Pappus: 2 pi R times the section's area, its moment that times z. Both areas
    from first principles: between two circles, or over the chord of a round section."""

    def area(z: float) -> float:
        if isinstance(piece, Tube):
            return math.pi * (piece.outer**2 - piece.inner**2)
        half_chord = math.sqrt(max(piece.section_radius**2 - (z - piece.height) ** 2, 0.0))
        return 4.0 * math.pi * piece.radius * half_chord

    for share in (0.2, 0.5, 0.8, 1.0):
        z = piece.lowest + share * (piece.highest - piece.lowest)
        volume = quad(area, piece.lowest, z, epsabs=0.0)[0]
        moment = quad(lambda at: at * area(at), piece.lowest, z, epsabs=0.0)[0]
        assert piece.volume_below(z) == pytest.approx(volume, rel=1e-7)
        assert piece.moment_below(z) == pytest.approx(moment, rel=1e-6)
    r, z_out = piece.outline.T
    section = 0.5 * float(np.sum(r * np.roll(z_out, -1) - np.roll(r, -1) * z_out))
    polygon = 1.0 if isinstance(piece, Tube) else math.sin(2 * math.pi / 48) / (2 * math.pi / 48)
    assert 2 * math.pi * piece.radius * section == pytest.approx(piece.volume * polygon, rel=1e-12)
    assert piece.moment_below(1.0) == pytest.approx(piece.volume * piece.height, rel=1e-9)
    assert piece.volume_below(-1.0) == 0.0


def test_a_washer_s_second_moment_is_that_of_an_annulus():
    """pi/4 (R_o^4 - R_i^4) (textbook)."""
    washer = PIECES[0]
    expected = math.pi / 4 * (0.02**4 - 0.01**4)
    assert washer.waterplane_inertia(-0.001) == pytest.approx(expected)
    assert washer.waterplane_inertia(0.001) == 0.0


def test_a_band_has_the_thickness_that_its_mass_needs():
    (band,) = loaded(BAND).outer_ballast.pieces
    assert isinstance(band, Tube)
    assert band.inner == 0.05
    assert band.volume == pytest.approx(0.030 / 1800)
    thin = 0.030 / 1800 / (0.008 * 2 * math.pi * 0.05)  # of a thin band, developed
    assert band.outer - band.inner == pytest.approx(thin, rel=0.07)


def test_a_band_on_the_inner_wall_grows_inwards():
    case = loaded(BAND.replace("50 mm", "48 mm"))
    (band,) = case.inner_ballast.pieces
    assert band.widest == 0.048
    assert band.volume == pytest.approx(0.030 / 1800)
    wet = water_inside(case, 0.020)
    assert wet == pytest.approx(float(case.bowl.inner_volume(0.020)) - band.volume)


def test_a_cup_with_a_washer_and_a_band_floats_by_archimedes():
    """Draft, mean density, centre and metacentric height of the dry cup by hand. All ballast is
    under water; KB and KG by moments, BM = I/V (textbook naval hydrostatics)."""
    case, area = loaded(WASHER, BAND), math.pi * RADIUS**2
    washer, band = (piece.volume for piece in case.outer_ballast.pieces)
    mass = MASS + 7850 * washer + 0.030
    assert washer == pytest.approx(math.pi * (0.02**2 - 0.01**2) * 0.002)
    assert case.total_mass == pytest.approx(mass)
    water = case.water.density
    hull = mass / water - washer - band
    draft = hull / area  # the hole's prism is taken for full: plugged hull
    found = dry_draft(case)
    assert found == pytest.approx(draft, rel=1e-9)
    solid = case.bowl.solid_volume + washer + band
    assert mean_density(case) == pytest.approx(mass / solid)
    weight = (MASS * case.bowl.centroid_z + 7850 * washer * -0.001 + 0.030 * 0.012) / mass
    assert centre_of_weight(case) == pytest.approx(weight)
    moment = area * draft**2 / 2 + washer * -0.001 + band * 0.012
    inertia = math.pi / 4 * RADIUS**4
    upright = (moment + inertia) / (mass / water) - weight
    assert metacentric_height(case, -BASE) == pytest.approx(upright, rel=1e-6)
    assert pytest.approx(0.048) == RADIUS - WALL


@pytest.mark.parametrize("tables", [(WASHER, BAND), (RING, WASHER), (WASHER, RING, BAND)])
def test_the_models_see_the_volumes_of_the_statics(tables):
    case = loaded(*(table.replace("-4 mm", "-8 mm") for table in tables))
    vessel = Vessel(case)
    for draft in np.linspace(-0.005, HEIGHT, 23).tolist():
        assert vessel.displaced(draft) == pytest.approx(displaced_volume(case, draft), abs=1e-15)
    assert heave.solve(case).sinking_time
    assert check(case).verdict == "sinks"


def test_one_table_is_one_of_several():
    one, several = loaded(RING.replace("[[ballast]]", "[ballast]")), loaded(RING)
    assert one.ballast == several.ballast
    ballast = loaded(RING, BAND).ballast
    assert isinstance(ballast.ring, Ring)
    assert [len(outline) for outline in outlines_of(ballast.outline)] == [48, 4]
    assert [len(outline) for outline in outlines_of(Ballast(PIECES[:1]).outline)] == [4]


def test_the_ring_among_several_pieces_is_sized_and_the_others_stay():
    case = loaded(RING, BAND)
    setting = ballast_setting(case)
    other = setting.case_at(0.020)
    assert other.total_mass - case.total_mass == pytest.approx(0.008)
    with pytest.raises(CaseError, match="no round ring, or several"):
        ballast_setting(loaded(BAND))


def test_another_hole_leaves_ballast_where_it_is_on_a_dish():
    """A narrower hole's edge is lower, and heights are from there: a ring at rest is no lower."""
    dish = '''
    bowl = {shape = "cap", radius = "60 mm", height = "38 mm", wall = "4 mm", mass = "30 g"}
    hole = {diameter = "9 mm"}
    [[ballast]]
    mass = "150 g"
    radius = "25 mm"
    height = "14.8 mm"
    density = "11.3 g/cm3"'''
    case = parse_case(dish, Path(), "dish.toml")
    other = case.with_hole(0.002)
    (ring,), (moved,) = case.ballast.pieces, other.ballast.pieces
    below = case.bowl.rim_height - ring.height
    assert other.bowl.rim_height - moved.height == pytest.approx(below, abs=1e-12)
    assert moved.height > ring.height + 0.1e-3
    assert parse_case(other.text, Path(), "dish.toml").ballast == other.ballast


def test_a_hole_is_not_sought_wider_than_its_washer():
    assert hole_setting(loaded(WASHER)).high == pytest.approx(0.020)
    with pytest.raises(CaseError, match="in front of the hole"):
        loaded(WASHER).with_hole(0.021)


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        ((WASHER.replace('"-1 mm"', '"0 mm"'),), 'ballast 1.height = "0 mm" makes .* -1 mm'),
        ((WASHER.replace('"20 mm"', '"4 mm"'),), "ballast 1.inner_diameter .* 8 mm or more"),
        ((WASHER.replace('"20 mm"', '"40 mm"'),), "ballast 1.inner_diameter .* not smaller"),
        ((WASHER.replace('thickness = "2 mm"', ""),), "ballast 1.thickness is missing"),
        ((WASHER + 'mass = "20 g"\n',), "ballast 1.mass .* given together with density"),
        ((RING, BAND + 'thickness = "2 mm"\n'), "ballast 2.thickness .* no meaning"),
        ((BAND.replace('"50 mm"', '"53 mm"'),), "ballast 1.radius .* 50 mm .* 48 mm"),
        ((BAND.replace('"50 mm"', '"49 mm"'),), "ballast 1.radius .* 50 mm .* 48 mm"),
        ((RING, RING), "ballast 2.height .* piece 1"),
        ((RING, RING.replace("radius", "radus")), "ballast 2.radus .* ballast.radius"),
        (('[ballast]\nshape = "disc"\nheight = "0 mm"\n',), "ballast.shape .* 'ring'"),
        ((RING * 10,), "ballast = .* has too many tables"),
    ],
)
def test_what_has_no_room_or_lacks_a_key_is_told_by_its_piece(tables, told):
    with pytest.raises(CaseError, match=told):
        loaded(*tables)


def test_materials_are_named_or_taken_by_the_density():
    """Handbook densities, from memory."""
    for name, density in {
        "wood": 720.0,
        "plastic": 1200.0,
        "putty": 1800.0,
        "steel": 7850.0,
        "brass": 8500.0,
        "copper": 8960.0,
        "lead": 11340.0,
    }.items():
        assert by_density(density) == name
    case = loaded(RING + 'material = "copper"\n', BAND)
    case = parse_case(
        case.text.replace('shape = "cup"', 'shape = "cup"\nmaterial = "plastic"'), Path(), "c.toml"
    )
    assert [solid.material for solid in solids_of(case)] == ["plastic", "copper", "putty"]
