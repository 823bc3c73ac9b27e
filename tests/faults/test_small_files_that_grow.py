"""Small input files that ask for much: refused, or read, with bounded memory and time."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

import meshio
import meshio.vtu
import numpy as np
import pytest

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


@pytest.mark.slow
@pytest.mark.parametrize("packing", ["zlib", "lzma"])
def test_a_mesh_that_unpacks_to_gigabytes_is_refused_before_it_has_grown(
    tmp_path: Path, packing: str
) -> None:
    """The peak of memory is told by the kernel, in a process that reads this one file."""
    path = tmp_path / "o.vtu"
    mesh = meshio.Mesh(np.zeros((5_000_000, 3)), [("line", np.zeros((1, 2), dtype=int))])
    meshio.vtu.write(path, mesh, binary=True, compression=packing)
    assert path.stat().st_size < LARGEST_PACKED < LARGEST_PLAIN < 120_000_000
    told = subprocess.run(
        [sys.executable, "-c", READ, str(path)], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert told[0] == f"unpacks to more than {LARGEST_PLAIN} bytes"
    assert int(told[1]) * 1024 < 8 * LARGEST_PLAIN, told


@pytest.mark.parametrize("packing", ["zlib", "lzma", None])
def test_a_packed_mesh_of_believable_length_is_read(tmp_path: Path, packing: str | None) -> None:
    path = tmp_path / "o.vtu"
    points = np.column_stack((np.linspace(0.0, 0.05, 300), np.zeros(300), np.zeros(300)))
    lines = np.column_stack((np.arange(299), np.arange(1, 300)))
    meshio.vtu.write(path, meshio.Mesh(points, [("line", lines)]), True, packing)
    found = read_mesh(path, None)
    np.testing.assert_array_equal(found.points, points)
    np.testing.assert_array_equal(found.lines, lines)


def test_a_packed_mesh_that_is_cut_short_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "o.vtu"
    mesh = meshio.Mesh(np.random.default_rng(1).random((50, 3)), [("line", np.array([[0, 1]]))])
    meshio.vtu.write(path, mesh)
    text = path.read_text()
    k = text.index("</DataArray>")
    path.write_text(text[: k - 40] + text[k:])
    with pytest.raises(InputRefused, match="cannot be read as a mesh"):
        read_mesh(path, None)


def test_five_thousand_points_are_looked_through_in_a_moment() -> None:
    """A quarter of a circle, drawn finely; processor time, on a machine that others use as well."""
    angle = np.linspace(0.0, np.pi / 2, 5000)
    points = 0.05 * np.column_stack((np.sin(angle), 1.0 - np.cos(angle)))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_utime
    assert first_crossing(points) is None
    assert resource.getrusage(resource.RUSAGE_SELF).ru_utime - before < 0.5


def test_five_thousand_points_whose_lines_all_lie_beside_each_other_are_bounded() -> None:
    """The worst case: no two boxes are apart, so all 12.5 million pairs are looked at."""
    far = np.arange(5000) % 2
    points = np.column_stack((far, np.linspace(0.0, 1.0, 5000) + 2.0 * far))
    begun = time.process_time()
    assert first_crossing(points) is None
    assert time.process_time() - begun < 10.0


def test_the_first_segment_that_crosses_is_told_however_far_apart_the_two_are() -> None:
    """The last of 2000 segments cuts through the first; from first principles."""
    angle = np.linspace(0.0, 1.9 * np.pi, 2000)
    ring = np.column_stack((2.0 + np.cos(angle), np.sin(angle)))
    tail = np.array([[2.9, -0.5], [2.9, 0.5 * np.sin(angle[1])], [3.5, 0.5 * np.sin(angle[1])]])
    assert first_crossing(np.vstack((ring, tail))) == pytest.approx(tuple(ring[0]))
    assert first_crossing(ring) is None
