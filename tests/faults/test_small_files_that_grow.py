"""Small input files that ask for much: refused, or read, with bounded memory and time."""

import base64
import resource
import time
from pathlib import Path

import meshio
import meshio.vtu
import numpy as np
import pytest

from console import python
from sinkbowl.bowl.bowl import first_crossing
from sinkbowl.bowl.mesh_file import LARGEST_PACKED, LARGEST_PLAIN, read_mesh
from sinkbowl.common.errors import InputRefused

READ = (
    "import resource, sys\n"
    "from pathlib import Path\n"
    "import meshio.vtu\n"
    "from sinkbowl.bowl.mesh_file import read_mesh\n"
    "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
    "try:\n"
    "    read_mesh(Path(sys.argv[1]), None)\n"
    "except ValueError as error:\n"
    "    print(error)\n"
    "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)\n"
)


VTK = "# vtk DataFile Version {}\nx\nASCII\nDATASET {}\n"
POLYGON = "POINTS 3 double\n0 0 0 0.04 0 0 0.05 0.04 0\n"
OFFSETS = "OFFSETS vtktypeint64\n{}\nCONNECTIVITY vtktypeint64\n0 1 2\nCELL_TYPES {}\n{}\n"
PLY = "ply\nformat {} 1.0\nelement vertex {}\n" + "".join(f"property float {a}\n" for a in "xyz")

FACES = "element face {}\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n"
MANY = 2_000_000_000


def vtu(inside: str, appended: str = "") -> str:
    piece = f'<Piece NumberOfPoints="3" NumberOfCells="1">{inside}</Piece>'
    more = f'<AppendedData encoding="base64">_{appended}</AppendedData>' if appended else ""
    kind = 'type="UnstructuredGrid" header_type="UInt32" byte_order="LittleEndian"'
    return f"<VTKFile {kind}><UnstructuredGrid>{piece}</UnstructuredGrid>{more}</VTKFile>"


def array(name: str, kind: str, text: str) -> str:
    return f'<DataArray Name="{name}" type="{kind}" format="ascii">{text}</DataArray>'


def again_and_again() -> str:
    """The same 600 kB, named by 500 arrays."""
    block = (600_000).to_bytes(4, "little") + bytes(600_000)
    named = '<DataArray Name="{}" type="Float64" format="appended" offset="0"/>'
    arrays = "".join(named.format(k) for k in range(500))
    return vtu(f"<PointData>{arrays}</PointData>", base64.b64encode(block).decode())


POINTS = (
    '<Points><DataArray type="Float64" NumberOfComponents="3" format="ascii">'
    "0 0 0 0.04 0 0 0.05 0.04 0</DataArray></Points>"
)
GREEDY = {
    "a cube.vtk": VTK.format("3.0", "STRUCTURED_POINTS")
    + "DIMENSIONS 400 400 400\nORIGIN 0 0 0\nSPACING 1 1 1\n",
    "long edges.vtk": VTK.format("5.1", "STRUCTURED_POINTS")
    + f"DIMENSIONS {MANY} {MANY} {MANY}\nORIGIN 0 0 0\nSPACING 1 1 1\n",
    "a sheet.vtk": VTK.format("5.1", "RECTILINEAR_GRID")
    + "".join(f"{a}_COORDINATES 1 double\n0\n" for a in "XYZ")
    + "DIMENSIONS 400 400 400\n",
    "points.vtk": VTK.format("3.0", "UNSTRUCTURED_GRID") + f"POINTS {MANY} double\n0 0 0\n",
    "cells.vtk": VTK.format("3.0", "UNSTRUCTURED_GRID") + POLYGON + f"CELLS 1 {MANY}\n",
    "types.vtk": VTK.format("5.1", "UNSTRUCTURED_GRID") + POLYGON + f"CELL_TYPES {MANY}\n",
    "a polygon.vtk": VTK.format("3.0", "UNSTRUCTURED_GRID")
    + POLYGON
    + f"CELLS 1 4\n{MANY} 0 1 2\nCELL_TYPES 1\n7\n",
    "a polygon's end.vtk": VTK.format("5.1", "UNSTRUCTURED_GRID")
    + POLYGON
    + "CELLS 3 3\n"
    + OFFSETS.format(f"0 {MANY} 3", 2, "7 7"),
    "a polygon's end.vtu": vtu(
        f"{POINTS}<Cells>{array('connectivity', 'Int64', '0 1 2')}"
        f"{array('offsets', 'Int64', str(MANY))}{array('types', 'UInt8', '7')}</Cells>"
    ),
    "a polyhedron.vtu": vtu(
        f"{POINTS}<Cells>{array('connectivity', 'Int64', '0 1 2')}{array('offsets', 'Int64', '3')}"
        f"{array('types', 'UInt8', '42')}{array('faceoffsets', 'Int64', '3')}"
        f"{array('faces', 'Int64', f'{MANY} 0 0 0')}</Cells>"
    ),
    "again and again.vtu": again_and_again(),
    "points.ply": PLY.format("ascii", MANY) + FACES.format(1),
    "faces.ply": PLY.format("binary_little_endian", 1) + FACES.format(MANY),
    "other words.ply": "ply\nformat ascii 1.0\n  element\tvertex  9999999999\nend_header\n",
    "triangles.stl": "x" * 80 + "\xff" * 4 + "x" * 50,
    "tags.msh": f"$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$Nodes\n1\n{MANY} 0 0 0\n$EndNodes\n",
}


@pytest.mark.parametrize("name", GREEDY)
def test_a_small_mesh_that_asks_for_much_is_refused_at_once(tmp_path, name):
    """No more memory than what is read by a process with meshio loaded, and no time."""
    path = tmp_path / name
    path.write_bytes(GREEDY[name].encode("latin-1"))
    assert path.stat().st_size < LARGEST_PACKED
    limit = resource.getrlimit(resource.RLIMIT_AS)
    used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (used + 150_000_000, limit[1]))
    begun = time.process_time()
    try:
        with pytest.raises(InputRefused) as refused:
            read_mesh(path, None)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, limit)
    assert time.process_time() - begun < 2.0
    assert "MemoryError" not in str(refused.value)


@pytest.mark.parametrize("form", ["vtk42", "vtk", "vtu"])
def test_of_many_kinds_of_cells_lines_triangles_and_quadrilaterals_are_read(tmp_path, form):
    path = tmp_path / f"o.{form[:3]}"
    corners = np.random.default_rng(1).random((9, 3))
    cells = {"vertex": [[8]], "line": [[0, 1], [1, 2]], "triangle": [[2, 3, 4]]}
    cells |= {"tetra": [[0, 1, 2, 3]], "quad": [[4, 5, 6, 7]], "polygon": [[0, 1, 2, 3, 4]]}
    mesh = meshio.Mesh(corners, [(kind, np.array(block)) for kind, block in cells.items()])
    if form == "vtk42":
        meshio.vtk.write(path, mesh, fmt_version="4.2")
    else:
        mesh.write(path, form)
    found = read_mesh(path, None)
    np.testing.assert_array_equal(found.lines, cells["line"])
    np.testing.assert_array_equal(found.triangles, [[2, 3, 4], [4, 5, 6], [4, 6, 7]])
    np.testing.assert_allclose(found.points, corners)


@pytest.mark.slow
@pytest.mark.parametrize("packing", ["zlib", "lzma"])
def test_a_mesh_that_unpacks_to_gigabytes_is_refused_before_it_has_grown(tmp_path, packing):
    """The peak of memory is told by the kernel, in a process that reads this one file."""
    path = tmp_path / "o.vtu"
    mesh = meshio.Mesh(np.zeros((5_000_000, 3)), [("line", np.zeros((1, 2), dtype=int))])
    meshio.vtu.write(path, mesh, binary=True, compression=packing)
    assert path.stat().st_size < LARGEST_PACKED < LARGEST_PLAIN < 120_000_000
    told = python(READ, path).splitlines()
    assert told[0] == f"unpacks to more than {LARGEST_PLAIN} bytes"
    assert int(told[1]) * 1024 < 8 * LARGEST_PLAIN, told


@pytest.mark.parametrize("packing", ["zlib", "lzma", None])
def test_a_packed_mesh_of_believable_length_is_read(tmp_path, packing):
    path = tmp_path / "o.vtu"
    points = np.column_stack((np.linspace(0.0, 0.05, 300), np.zeros(300), np.zeros(300)))
    lines = np.column_stack((np.arange(299), np.arange(1, 300)))
    meshio.vtu.write(path, meshio.Mesh(points, [("line", lines)]), True, packing)
    found = read_mesh(path, None)
    np.testing.assert_array_equal(found.points, points)
    np.testing.assert_array_equal(found.lines, lines)


def test_a_packed_mesh_that_is_cut_short_is_refused(tmp_path):
    path = tmp_path / "o.vtu"
    mesh = meshio.Mesh(np.random.default_rng(1).random((50, 3)), [("line", np.array([[0, 1]]))])
    meshio.vtu.write(path, mesh)
    text = path.read_text()
    k = text.index("</DataArray>")
    path.write_text(text[: k - 40] + text[k:])
    with pytest.raises(InputRefused, match="cannot be read as a mesh"):
        read_mesh(path, None)


def test_five_thousand_points_are_looked_through_in_a_moment():
    """A quarter of a circle, drawn finely; processor time, on a machine that others use as well."""
    angle = np.linspace(0.0, np.pi / 2, 5000)
    points = 0.05 * np.column_stack((np.sin(angle), 1.0 - np.cos(angle)))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_utime
    assert first_crossing(points) is None
    assert resource.getrusage(resource.RUSAGE_SELF).ru_utime - before < 0.5


def test_five_thousand_points_whose_lines_all_lie_beside_each_other_are_bounded():
    """The worst case: no two boxes are apart, so all 12.5 million pairs are looked at."""
    far = np.arange(5000) % 2
    points = np.column_stack((far, np.linspace(0.0, 1.0, 5000) + 2.0 * far))
    begun = time.process_time()
    assert first_crossing(points) is None
    assert time.process_time() - begun < 10.0


def test_the_first_segment_that_crosses_is_told_however_far_apart_the_two_are():
    """The last of 2000 segments cuts through the first; from first principles."""
    angle = np.linspace(0.0, 1.9 * np.pi, 2000)
    ring = np.column_stack((2.0 + np.cos(angle), np.sin(angle)))
    tail = np.array([[2.9, -0.5], [2.9, 0.5 * np.sin(angle[1])], [3.5, 0.5 * np.sin(angle[1])]])
    assert first_crossing(np.vstack((ring, tail))) == pytest.approx(tuple(ring[0]))
    assert first_crossing(ring) is None
