"""Bowls from surface meshes: the axis is found, volumes are those of closed forms."""

import math
from pathlib import Path

import meshio
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from scipy.spatial.transform import Rotation

from cups import cup_text
from sinkbowl.bowl.bowl import Bowl
from sinkbowl.bowl.outline import read_outline
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import CaseError, InputRefused
from turned_surfaces import Surface, turned

Array = NDArray[np.float64]
R, H, W, HOLE = 70.0, 45.0, 3.0, 12.0
"""Rim radius, height and wall of the cap, radius of the cup's hole, in mm as a drawing has them."""

SPHERE = (R**2 + H**2) / (2.0 * H)
TURN = Rotation.from_euler("zyx", [0.7, -0.4, 1.1])
SHIFT = np.array([120.0, -35.0, 60.0])

CASE = """
[bowl]
shape = "profile"
profile = "{file}"
{keys}
density = "8500 kg/m^3"
[hole]
diameter = "24 mm"
"""


def arc(radius: float, top: float, points: int = 160) -> Array:
    """Meridian of a sphere about (0, SPHERE), from its lowest point to a height."""
    angle = np.linspace(0.0, math.acos((SPHERE - top) / radius), points)
    return np.column_stack((radius * np.sin(angle), SPHERE - radius * np.cos(angle)))


CUP = np.array([(HOLE, 0), (50, 0), (50, 60), (48, 60), (48, 2), (HOLE, 2), (HOLE, 0)], dtype=float)


def write(path: Path, surface: Surface) -> Path:
    points, triangles = surface
    mesh = meshio.Mesh(points, [("triangle", triangles)])
    if path.suffix == ".stl":
        mesh.write(path, binary=True)
    else:
        mesh.write(path)
    return path


def cap_volume(height: float, radius: float) -> float:
    """Spherical cap, pi h^2 (3 R - h)/3."""
    return math.pi * height**2 * (3.0 * radius - height) / 3.0


def moved(surface: Surface) -> Surface:
    return TURN.apply(surface[0]) + SHIFT, surface[1]


def upside_down(surface: Surface) -> Surface:
    return surface[0] * [1.0, 1.0, -1.0], surface[1][:, ::-1]


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply", ".vtk", ".vtu"])
def test_the_skin_of_a_spherical_cap_encloses_its_volume(suffix, tmp_path):
    """Closed form; the chords of the meridian, 160 to a radian, leave out 2e-5 of it."""
    file = write(tmp_path / f"cap{suffix}", turned(arc(SPHERE, H)))
    sides = read_outline(file, unit="mm")
    assert sides.inner is None
    r, z = 1e3 * sides.outer.T
    swept = math.pi / 3.0 * np.sum(np.diff(z) * (r[1:] ** 2 + r[1:] * r[:-1] + r[:-1] ** 2))
    assert swept == pytest.approx(cap_volume(H, SPHERE), rel=1e-4)
    assert (r[0], r[-1]) == pytest.approx((0.0, R), abs=1e-4)


@pytest.mark.parametrize(
    "change", [lambda s: s, moved, upside_down, lambda s: moved(upside_down(s))]
)
def test_a_body_brings_its_own_wall_wherever_it_lies(change, tmp_path):
    """Cap less concentric cap, closed form; STL keeps single precision."""
    meridian = np.vstack((arc(SPHERE, H), arc(SPHERE - W, H)[::-1]))
    file = write(tmp_path / "cap.stl", change(turned(meridian)))
    sides = read_outline(file, unit="mm")
    assert sides.inner is not None
    bowl = Bowl.from_outlines(sides.outer, sides.inner, 1.0)
    wanted = cap_volume(H, SPHERE) - cap_volume(H - W, SPHERE - W)
    assert 1e9 * bowl.solid_volume == pytest.approx(wanted, rel=1e-4)
    assert 1e3 * bowl.rim_height == pytest.approx(H, rel=1e-5)


def test_a_cup_with_its_hole_makes_the_same_case_as_its_numbers(tmp_path):
    """Straight walls: the mesh says it all, to single precision."""
    write(tmp_path / "cup.stl", moved(turned(CUP, 24)))
    mine = case(tmp_path, "cup.stl", 'unit = "mm"').bowl
    solid = math.pi * (50.0**2 * 60.0 - 48.0**2 * 58.0 - HOLE**2 * 2.0)
    assert 1e9 * mine.solid_volume == pytest.approx(solid, rel=1e-5)
    assert mine.mass == pytest.approx(8500.0 * solid * 1e-9, rel=1e-5)
    assert 1e3 * mine.rim_radius == pytest.approx(50.0, rel=1e-6)
    wider = case(tmp_path, "cup.stl", 'unit = "mm"').with_hole(0.040).bowl
    assert 1e9 * wider.solid_volume == pytest.approx(
        solid - math.pi * (20.0**2 - HOLE**2) * 2.0, rel=1e-5
    )


def test_triangles_in_any_order_round_the_bowl_do_as_well(tmp_path):
    """Rings of 36 to 44 points, each turned at random, joined by Delaunay's triangles."""
    rng = np.random.default_rng(3)
    meridian = arc(SPHERE, H, 30)[1:]
    flat, points = [], []
    for k, (r, z) in enumerate(meridian):
        angle = np.linspace(0.0, 2.0 * np.pi, 36 + 2 * (k % 5), endpoint=False)
        angle = (angle + rng.uniform(0.0, 0.2)) % (2.0 * np.pi)
        flat.append(np.column_stack((np.cos(angle), np.sin(angle))) * (k + 1.0))
        points.append(np.column_stack((r * np.cos(angle), r * np.sin(angle), z + 0.0 * angle)))
    triangles = Delaunay(np.vstack(flat)).simplices
    middle = np.linalg.norm(np.vstack(flat)[triangles].mean(axis=1), axis=1)
    surface = np.vstack(points), triangles[middle > 0.9]
    sides = read_outline(write(tmp_path / "cap.vtk", moved(surface)), unit="mm")
    r, z = 1e3 * sides.outer.T
    swept = math.pi / 3.0 * np.sum(np.diff(z) * (r[1:] ** 2 + r[1:] * r[:-1] + r[:-1] ** 2))
    lost = cap_volume(meridian[0, 1], SPHERE)
    assert swept == pytest.approx(cap_volume(H, SPHERE) - lost, rel=2e-3)


def test_a_surface_without_a_unit_is_in_metres(tmp_path):
    points, triangles = turned(CUP)
    write(tmp_path / "cup.stl", (points * 1e-3, triangles))
    assert case(tmp_path, "cup.stl", "").bowl.rim_radius == pytest.approx(0.05, rel=1e-6)


@pytest.mark.parametrize(("axis", "turn"), [("x", [0, 90, 0]), ("y", [90, 0, 0]), ("z", [0, 0, 0])])
def test_the_axis_may_be_given(axis, turn, tmp_path):
    points, triangles = turned(CUP)
    points = Rotation.from_euler("xyz", turn, degrees=True).apply(points) + SHIFT
    write(tmp_path / "cup.stl", (points, triangles))
    bowl = case(tmp_path, "cup.stl", f'unit = "mm"\naxis = "{axis}"').bowl
    assert bowl.rim_height == pytest.approx(0.06, rel=1e-5)
    other = {"x": "y", "y": "z", "z": "x"}[axis]
    error = refusal(tmp_path, "cup.stl", f'unit = "mm"\naxis = "{other}"')
    assert "profile" in error
    assert f"the axis along {other}" in error or "not one surface" in error
    assert "Leave axis out" in error or "one closed body" in error


@pytest.mark.parametrize("axis", ["x", "y"])
def test_lines_may_have_another_axis_and_unit(axis, tmp_path):
    outline = np.array([(0.0, 0.0), (40.0, 0.0), (50.0, 60.0)])
    points = np.zeros((3, 3))
    points[:, "xyz".index(axis)], points[:, 2] = outline[:, 1], outline[:, 0]
    meshio.Mesh(points, [("line", np.array([[0, 1], [1, 2]]))]).write(tmp_path / "lines.vtk")
    sides = read_outline(tmp_path / "lines.vtk", axis, "mm")
    assert sides.outer == pytest.approx(1e-3 * outline)


def case(folder: Path, file: str, keys: str) -> Case:
    return parse_case(CASE.format(file=file, keys=keys), folder, "bowl.toml")


def refusal(folder: Path, file: str, keys: str) -> str:
    with pytest.raises(CaseError) as caught:
        case(folder, file, keys)
    assert str(caught.value).startswith("bowl.toml: ")
    return str(caught.value)


def oval(surface: Surface) -> Surface:
    return surface[0] * [1.04, 1.0, 1.0], surface[1]


def dented(surface: Surface) -> Surface:
    points = surface[0].copy()
    hit = np.argmin(np.linalg.norm(points - [0.0, 50.0, 60.0], axis=1))
    points[hit] += [0.0, 1.5, 0.0]
    return points, surface[1]


def sector_missing(surface: Surface) -> Surface:
    points, triangles = surface
    middle = points[triangles].mean(axis=1)
    return points, triangles[np.abs(np.arctan2(middle[:, 1], middle[:, 0])) > 0.25]


def sixth_missing(surface: Surface) -> Surface:
    """On opposite sides, so that the axis is right."""
    points, triangles = surface
    middle = points[triangles].mean(axis=1)
    angle = np.arctan2(middle[:, 1], middle[:, 0])
    return points, triangles[np.abs((angle + np.pi / 2) % np.pi - np.pi / 2) > np.pi / 12]


def two_of_it(surface: Surface) -> Surface:
    points, triangles = surface
    return np.vstack((points, 0.4 * points)), np.vstack((triangles, triangles + len(points)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            oval,
            ("not a surface of revolution about the axis along z", "mm off the outline", "0.25 mm"),
        ),
        (dented, ("x = 0, y = 51.5, z = 60 mm is 1.", "axis along")),
        (sector_missing, ("bowl.profile", "cup.vtk")),
        (sixth_missing, ("covers 83",)),
        (two_of_it, ("separate parts", "only the bowl")),
    ],
)
def test_what_is_no_bowl_of_revolution_is_refused_with_the_place(change, words, tmp_path):
    """The dent is 1.5 mm; the oval has half axes of 52 and 50 mm."""
    write(tmp_path / "cup.vtk", change(turned(CUP)))
    error = refusal(tmp_path, "cup.vtk", 'unit = "mm"')
    for word in words:
        assert word in error, error


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("", ("reaches 60 m", 'unit = "mm"')),
        ('unit = "kg"', ('bowl.unit = "kg" is not a unit of length', '"mm"')),
        ('unit = "km"', ('bowl.unit = "km"', "out of range")),
        ('unit = "mm"\nwall = "2 mm"', ('bowl.wall = "2 mm"', "its own wall")),
        ('unit = "mm"\naxis = "w"', ("bowl.axis", "'x', 'y' or 'z'")),
        ('unit = "mm"\nradius = "60 mm"', ("bowl.radius", "disagrees")),
    ],
)
def test_keys_that_do_not_suit_the_mesh_are_refused(keys, words, tmp_path):
    write(tmp_path / "cup.stl", turned(CUP))
    error = refusal(tmp_path, "cup.stl", keys)
    for word in words:
        assert word in error, error


@pytest.mark.parametrize("key", ['unit = "mm"', 'axis = "z"'])
def test_tables_and_plain_shapes_have_neither_unit_nor_axis(key, tmp_path):
    (tmp_path / "lines.csv").write_text("r [mm],z [mm]\n0,0\n40,0\n50,60\n")
    name = key.split()[0]
    error = refusal(tmp_path, "lines.csv", f'{key}\nwall = "2 mm"')
    assert f"bowl.{name}" in error
    assert "this is a table" in error
    text = cup_text().replace("[hole]", f"{key}\n[hole]")
    with pytest.raises(CaseError, match=f'bowl.{name} = .* has no meaning for shape = "cup"'):
        parse_case(text, tmp_path, "bowl.toml")


def test_a_skin_needs_a_wall(tmp_path):
    write(tmp_path / "cap.stl", turned(arc(SPHERE, H)))
    error = refusal(tmp_path, "cap.stl", 'unit = "mm"')
    assert "bowl.wall is missing, and the outline has only one side" in error
    assert case(tmp_path, "cap.stl", 'unit = "mm"\nwall = "2 mm"').bowl.rim_height > 0.04


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("cup.off", b"OFF\n", "not a readable table or mesh"),
        ("cup.ply", b"ply\nformat ascii 1.0\n", "has no end of its header"),
    ],
)
def test_formats_that_could_keep_their_reader_for_ever_are_refused(name, content, words, tmp_path):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputRefused, match=words):
        read_outline(tmp_path / name)


def test_what_is_too_large_or_broken_is_refused_before_it_is_worked_on(tmp_path, monkeypatch):
    points, triangles = turned(CUP)
    file = write(tmp_path / "cup.stl", (points, triangles))
    monkeypatch.setattr("sinkbowl.bowl.mesh_file.MOST_TRIANGLES", 100)
    with pytest.raises(InputRefused, match=r"has \d+ triangles"):
        read_outline(file, unit="mm")
    monkeypatch.setattr("sinkbowl.bowl.mesh_file.LARGEST_PLAIN", 1000)
    with pytest.raises(InputRefused, match="too large"):
        read_outline(file, unit="mm")


@pytest.mark.parametrize(
    "text",
    [
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n",
        "v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "v 0 0 1\nv 0 0 1\nv 0 0 1\nf 1 2 3\n",
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "v 0 0 0\nv 1 0 0\nv 0 1 1\nf 1 2 3\n",
        "v 0 0 0\nv 1 0 1\nv 0 1 1\nv 1 1 0\nf 1 2 3\nf 1 2 4\nf 1 3 4\nf 2 3 4\n",
        "v 0 0 0\n",
    ],
)
def test_what_is_no_surface_of_a_bowl_is_refused_in_a_sentence(text, tmp_path):
    (tmp_path / "any.obj").write_text(text)
    error = refusal(tmp_path, "any.obj", 'unit = "mm"')
    assert "bowl.profile" in error
