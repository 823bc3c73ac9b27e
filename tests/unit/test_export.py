"""Exports read back with meshio: cut cells end at the wall, turned ones fill the bowl's water."""

import math
import xml.etree.ElementTree as ET
from pathlib import Path

import matplotlib.path
import meshio
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from cups import cup_text
from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.recorder import Recorder
from sinkbowl.files.result import Result, read_result
from sinkbowl.flow.simulation import initialise
from sinkbowl.running.run_state import grid_arrays
from sinkbowl_post.exporting.export import export
from sinkbowl_post.exporting.section_mesh import (
    SAME_PLACE,
    Section,
    open_polygons,
    revolved,
    revolved_volume,
    triangles_of,
)
from synthetic import BASE, HEIGHT, HOLE, RADIUS, WALL, write_result

Array = NDArray[np.float64]
CAP = cup_text(
    40,
    shape="cap",
    title="Coarse brass cap",
    radius=70,
    height=50,
    wall=12,
    density="8500 kg/m^3",
    more='[flow]\ncell = "6 mm"\nbase_cell = "2 mm"\ntub_radius = "150 mm"',
)


@pytest.fixture(scope="module")
def cup(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return read_result(write_result(tmp_path_factory.mktemp("cup") / "cup.h5", frames=5))


@pytest.fixture(scope="module")
def cap(tmp_path_factory: pytest.TempPathFactory) -> Result:
    """The grid of a spherical cap, many of whose cells are cut; water that swells, u = (r, z)."""
    case: Case = parse_case(CAP, Path(), "cap.toml")
    arrays = grid_arrays(initialise(case))
    path = tmp_path_factory.mktemp("cap") / "cap.h5"
    recorder = Recorder.create(path, case)
    recorder.grid(arrays)
    r, z = np.meshgrid(*(_middle(arrays[name]) for name in ("r_f", "z_f")), indexing="ij")
    fields = {"volume_fraction": np.ones_like(r), "pressure": 10.0 * r + z, "u_r": r, "u_z": z}
    for t in (0.0, 0.1):
        recorder.frame(t, 0.01, 0.0, fields)
    recorder.finish("finished", None, "", "made up")
    return read_result(path)


def _middle(faces: Array) -> Array:
    return (faces[1:] + faces[:-1]) / 2


def _volume(corners: Array) -> float:
    """Volume of a convex cell, by another program's hull."""
    return float(ConvexHull(corners).volume)


def _is_upright(corners: Array) -> bool:
    """Whether the first face, its corners counter-clockwise, looks at the others of the cell."""
    first, other = np.split(corners, [4 if len(corners) in (5, 8) else 3])
    normal = np.cross(first[1] - first[0], first[2] - first[0])
    return bool(np.dot(normal, other.mean(axis=0) - first.mean(axis=0)) > 0.0)


def _cells(mesh: meshio.Mesh) -> list[tuple[str, Array]]:
    return [(block.type, mesh.points[corners]) for block in mesh.cells for corners in block.data]


def test_the_polygons_of_a_cup_leave_out_the_cup_and_nothing_else(cup, tmp_path):
    """Closed form: the grid's cylinder less base and wall of the cup, all turned once."""
    export(cup, tmp_path / "cup.vtu", frame=0)
    mesh = meshio.read(tmp_path / "cup.vtu")
    assert {block.type for block in mesh.cells} == {"quad", "polygon"}
    swept = sum(revolved_volume(points[:, [0, 2]]) for _, points in _cells(mesh))
    r_f, z_f = cup.grid["r_f"], cup.grid["z_f"]
    tub = math.pi * r_f[-1] ** 2 * (z_f[-1] - z_f[0])
    base = math.pi * (RADIUS**2 - (HOLE / 2) ** 2) * BASE
    wall = math.pi * (RADIUS**2 - (RADIUS - WALL) ** 2) * (HEIGHT - BASE)
    assert swept == pytest.approx(tub - base - wall, rel=1e-12)


def test_each_cut_cell_has_the_open_volume_that_the_solver_counts(cap):
    """Pappus on the polygons against the solver's own clipping; a sliver may be closed off."""
    r_f, z_f, is_open = (cap.grid[name] for name in ("r_f", "z_f", "open_fraction"))
    whole = math.pi * np.outer(np.diff(r_f**2), np.diff(z_f))
    polygons = open_polygons(r_f, z_f, cap.grid["grid_outline"])
    cut = [(int(i), int(j)) for i, j in np.argwhere((is_open > 0.0) & (is_open < 1.0))]
    assert len(cut) > 20
    for cell in cut:
        swept = sum(map(revolved_volume, polygons[cell]))
        assert swept == pytest.approx(is_open[cell] * whole[cell], abs=1e-9 * whole[cell])


def test_neighbours_share_the_points_at_which_the_wall_crosses_their_border(cap, tmp_path):
    """Two points at one place would be a crack that water cannot be followed across."""
    export(cap, tmp_path / "cap.vtu", frame=0)
    points = meshio.read(tmp_path / "cap.vtu").points
    assert len(np.unique(np.round(points, 9), axis=0)) == len(points)


@settings(max_examples=150, deadline=None)
@given(
    radii=st.lists(st.floats(0.2, 1.0), min_size=3, max_size=12),
    turn=st.floats(0.0, 1.0),
    on_grid=st.booleans(),
    lines=st.integers(3, 9),
)
def test_open_polygons_and_the_solid_fill_the_grid(radii, turn, on_grid, lines):
    """Random star-shaped solids, some with their corners on grid lines; Pappus for all volumes.
    Corners nearer to a grid line than SAME_PLACE of a cell are moved onto it."""
    angle = 2.0 * math.pi * (np.arange(len(radii)) + 0.5 * turn) / len(radii)
    solid = (
        np.array([2.0, 0.0])
        + np.column_stack((np.cos(angle), np.sin(angle))) * (np.array(radii)[:, None])
    )
    r_f, z_f = np.linspace(0.5, 3.5, lines + 1), np.linspace(-1.5, 1.5, lines + 1)
    if on_grid:
        solid[::2] = np.column_stack((_nearest(r_f, solid[::2, 0]), _nearest(z_f, solid[::2, 1])))
    assume(_is_simple(solid))
    found = open_polygons(r_f, z_f, solid)
    assume(found)  # else the solid lies within one cell
    polygons = [polygon for parts in found.values() for polygon in parts]
    swept = sum(map(revolved_volume, polygons))
    for polygon in polygons:
        assert min(revolved_volume(polygon[k]) for k in triangles_of(polygon)) > -1e-12
    cut = sum(math.pi * (r_f[i + 1] ** 2 - r_f[i] ** 2) * (z_f[j + 1] - z_f[j]) for i, j in found)
    within = sum(
        math.pi * (r_f[i + 1] ** 2 - r_f[i] ** 2) * (z_f[j + 1] - z_f[j])
        for i, j in np.ndindex(lines, lines)
        if (i, j) not in found and _covers(solid, _middle(r_f)[i], _middle(z_f)[j])
    )
    length = float(np.sum(np.hypot(*(solid - np.roll(solid, 1, axis=0)).T)))
    snapped = SAME_PLACE * (r_f[1] - r_f[0]) * 2.0 * math.pi * float(solid[:, 0].max()) * length
    assert cut - swept + within == pytest.approx(revolved_volume(solid), abs=snapped)


def _nearest(lines: Array, values: Array) -> Array:
    return np.asarray(lines[np.argmin(np.abs(lines[:, None] - values), axis=0)])


def _is_simple(polygon: Array) -> bool:
    """Whether it goes once round counter-clockwise, seen from its centre (2, 0), without folds."""
    arms = polygon - [2.0, 0.0]
    after = np.roll(arms, -1, axis=0)
    turns = arms[:, 0] * after[:, 1] - arms[:, 1] * after[:, 0]
    whole = np.sum(np.arctan2(turns, np.sum(arms * after, axis=1)))
    return bool(np.all(turns > 1e-3) and abs(whole - 2.0 * math.pi) < 1e-6)


def _covers(polygon: Array, r: float, z: float) -> bool:
    return bool(matplotlib.path.Path(polygon).contains_point((r, z)))


@pytest.mark.slow
@pytest.mark.parametrize("sectors", [3, 8])
def test_the_turned_cells_have_the_revolved_volume_to_the_polygon_factor(cap, tmp_path, sectors):
    """Each is sin(2 pi/N) / (2 pi/N) of what its part of the section sweeps (Pappus)."""
    export(cap, tmp_path / "cap.vtu", frame=0, sectors=sectors)
    mesh = meshio.read(tmp_path / "cap.vtu")
    assert {block.type for block in mesh.cells} == {"hexahedron", "wedge"}
    factor = math.sin(2.0 * math.pi / sectors) / (2.0 * math.pi / sectors)
    found = np.array([_volume(corners) for _, corners in _cells(mesh)])
    wanted = factor * np.concatenate(mesh.cell_data["open_volume"])
    assert found == pytest.approx(wanted, rel=1e-6, abs=1e-9 * wanted.max())
    r_f, z_f, is_open = (cap.grid[name] for name in ("r_f", "z_f", "open_fraction"))
    swept = math.pi * np.sum(np.outer(np.diff(r_f**2), np.diff(z_f)) * is_open)
    assert float(np.sum(found)) == pytest.approx(factor * swept, rel=1e-9)


def test_a_wall_that_comes_to_the_axis_leaves_pyramids_and_tetrahedra(tmp_path):
    """A cone on the axis in a grid of four cells: closed form of the open volume."""
    path = write_result(tmp_path / "run.h5", frames=1)
    read = read_result(path)
    lines = np.array([0.0, 0.5, 1.0])
    cone = np.array([(0.0, 0.2), (0.8, 0.4), (0.0, 0.7)])
    filled = math.pi / 3.0 * 0.8**2 * 0.5
    shares = np.full((2, 2), 0.5)
    grid = {"r_f": lines, "z_f": lines, "open_fraction": shares, "grid_outline": cone}
    section = Section.of(Result(path, read.attrs, {}, {}, grid, read.frames))
    mesh = revolved(section, 12)
    kinds = {kind for kind, _ in mesh.cells}
    assert {"tetra", "pyramid", "wedge"} <= kinds
    cells = [mesh.points[corners] for _, block in mesh.cells for corners in block]
    assert all(map(_is_upright, cells))
    found = sum(map(_volume, cells))
    factor = math.sin(math.pi / 6.0) / (math.pi / 6.0)
    assert found == pytest.approx(factor * (math.pi - filled), rel=1e-9)


def test_turned_velocities_point_away_from_the_axis_and_up(cap, tmp_path):
    """The water's u = (r, z) is x, y, z in space, at the middle of whole cells."""
    export(cap, tmp_path / "cap.vtu", frame=0, sectors=8)
    mesh = meshio.read(tmp_path / "cap.vtu")
    for block, velocity in zip(mesh.cells, mesh.cell_data["velocity"], strict=True):
        if block.type != "hexahedron":
            continue
        middle = mesh.points[block.data].mean(axis=1)
        stretch = math.cos(math.pi / 8.0)
        assert velocity[:, :2] * stretch == pytest.approx(middle[:, :2], rel=1e-6, abs=1e-7)
        assert velocity[:, 2] == pytest.approx(middle[:, 2], rel=1e-6, abs=1e-7)


def test_turned_cells_are_numbered_the_way_their_format_wants(cap, tmp_path):
    """The first face looks into the cell, as meshio's documentation has it (gmsh's order)."""
    export(cap, tmp_path / "cap.vtu", frame=0, sectors=6)
    for kind, corners in _cells(meshio.read(tmp_path / "cap.vtu")):
        assert _is_upright(corners), kind


@pytest.mark.parametrize(
    "polygon",
    [
        [(0, 0), (2, 0), (2, 2), (1, 0.5), (0, 2)],
        [(0, 0), (1, 0), (2, 0), (2, 1), (0, 1)],
        [(0, 0), (3, 0), (3, 3), (2, 3), (2, 1), (1, 1), (1, 3), (0, 3)],
    ],
)
def test_triangles_have_the_area_of_their_polygon_and_lie_in_it(polygon):
    """Shoelace formula, of the whole and of each triangle."""

    def area(points: Array) -> float:
        x, y = points.T
        return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)

    points = np.array(polygon, dtype=float)
    parts = [area(points[three]) for three in triangles_of(points)]
    assert len(parts) == len(points) - 2
    assert min(parts) >= 0.0
    assert sum(parts) == pytest.approx(area(points), rel=1e-14)


def test_times_pick_the_nearest_frames_and_say_so(cup, tmp_path, answer):
    """Frames lie at 0, 0.527, 1.05, 1.58, 2.11 s."""
    wanted = ("--time", "1 s", "--time", "1.5 s:3 s")
    told = answer("export", cup.path, "-o", tmp_path / "some.xdmf", *wanted)
    assert "3 frames in" in told
    assert "1 s: frame 2, at 1.0" in told
    assert "1.5 s:3 s: frames 3 to 4" in told
    with meshio.xdmf.TimeSeriesReader(tmp_path / "some.xdmf") as reader:
        reader.read_points_cells()
        times = [reader.read_data(k)[0] for k in range(reader.num_steps)]
    assert times == pytest.approx(cup.frames.t[[2, 3, 4]])


@pytest.mark.parametrize(
    ("name", "wish", "message"),
    [
        ("run.vtu", {"times": ["0.5"]}, 'has no unit.*"0.2 s:0.6 s"'),
        ("run.vtu", {"times": ["5 s"]}, "no frame near that time.*5 frames from 0"),
        ("run.vtu", {"times": ["0.1 s:0.2 s"]}, "there is no frame"),
        ("run.vtu", {"times": ["1 s"], "frame": 0}, "Give one of the two"),
        ("run.vtu", {"sectors": 2}, "give 3 to 360"),
        ("run.vtu", {"sectors": 361}, "give 3 to 360"),
        ("run.vtu", {"frame": 5}, "has frames 0 to 4"),
        ("run.csv", {"times": ["1 s"]}, "a table has no frames"),
        ("run.csv", {"sectors": 8}, "a table has no frames"),
        ("run.csv", {"frame": 0}, "a table has no frames"),
        ("run.obj", {}, r"\.csv or \.vtu or \.xdmf"),
        ("none/run.vtu", {}, "does not exist"),
    ],
)
def test_wishes_that_cannot_be_met_are_refused_and_leave_nothing(
    cup, tmp_path, name, wish, message
):
    with pytest.raises(ResultError, match=message):
        export(cup, tmp_path / name, **wish)
    assert list(tmp_path.iterdir()) == []


def test_every_cell_that_is_not_cut_comes_back_with_its_fields(cup, tmp_path):
    export(cup, tmp_path / "one.vtu", frame=-1)
    assert [file.name for file in tmp_path.iterdir()] == ["one.vtu"]
    mesh, fields = meshio.read(tmp_path / "one.vtu"), cup.frames.fields(4)
    whole = cup.grid["open_fraction"] == 1.0
    assert mesh.cells[0].type == "quad"
    assert len(mesh.cells[0]) == np.count_nonzero(whole)
    assert mesh.cell_data["pressure"][0] == pytest.approx(fields["pressure"][whole])
    velocity = mesh.cell_data["velocity"][0]
    assert velocity[:, 0] == pytest.approx(fields["u_r"][whole])
    assert velocity[:, 2] == pytest.approx(fields["u_z"][whole])
    r_c = mesh.points[mesh.cells[0].data][:, :, 0].mean(axis=1)
    centres = (cup.grid["r_f"][1:] + cup.grid["r_f"][:-1]) / 2
    assert r_c == pytest.approx(np.broadcast_to(centres[:, None], whole.shape)[whole])


def test_the_index_names_every_file_with_its_time(cup, tmp_path):
    export(cup, tmp_path / "run.vtu")
    entries = list(ET.parse(tmp_path / "run.pvd").iter("DataSet"))
    assert [float(entry.attrib["timestep"]) for entry in entries] == pytest.approx(cup.frames.t)
    assert all((tmp_path / entry.attrib["file"]).is_file() for entry in entries)


def test_a_time_series_beside_its_result_leaves_the_result_alone(cup, tmp_path):
    source = tmp_path / "run.h5"
    source.write_bytes(cup.path.read_bytes())
    export(read_result(source), tmp_path / "run.xdmf")
    assert source.read_bytes() == cup.path.read_bytes()
    with meshio.xdmf.TimeSeriesReader(tmp_path / "run.xdmf") as reader:
        points, cells = reader.read_points_cells()
        t, _, data = reader.read_data(2)
    assert t == pytest.approx(cup.frames.t[2])
    assert [block.type for block in cells] == ["quad", "triangle"]
    assert max(block.data.max() for block in cells) == len(points) - 1
    whole = cup.grid["open_fraction"] == 1.0
    assert data["pressure"][0] == pytest.approx(cup.frames.fields(2)["pressure"][whole])
    assert len(data["pressure"][1]) == len(cells[1])


def test_an_export_that_breaks_off_leaves_nothing(cup, tmp_path, monkeypatch):
    def full(*_: object, **__: object) -> None:
        (tmp_path / "seen").touch()
        raise OSError("no space left")

    monkeypatch.setattr(meshio.xdmf.TimeSeriesWriter, "write_data", full)
    with pytest.raises(ResultError, match="no space"):
        export(cup, tmp_path / "run.xdmf")
    assert [file.name for file in tmp_path.iterdir()] == ["seen"]


def test_the_command_says_what_it_wrote(cup, tmp_path, answer):
    told = answer("export", cup.path, "-o", tmp_path / "run.vtu")
    assert "5 frames in run.pvd and 5 more files" in told
