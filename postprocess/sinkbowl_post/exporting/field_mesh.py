"""Meshes with the fields of a run: its section, or the section revolved about the axis.

Coordinates are in the bowl's frame, velocities in the laboratory frame. ``open_volume`` is the
maximum water in a cell: the water of a frame is the sum of volume_fraction * open_volume for any
shape of the cells.

Formats: VTU files with a PVD index, or an XDMF time series.
"""

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import h5py
import meshio
import numpy as np
from numpy.typing import NDArray

from sinkbowl.files.result import Result

Array = NDArray[np.float64]
Numbers = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Block:
    """Cells of one kind.

    kind : meshio's name: "quad", "polygon", "hexahedron" ...
    corners : (m, k) numbers of points, counter-clockwise in the section
    cell : (m,) flat index of the values in a field (nr, nz)
    open_volume : (m,) [m^3]
    angle : (m,) of the half plane of their values, from x towards y [rad]; 0 in the section
    """

    kind: str
    corners: Numbers
    cell: Numbers
    open_volume: Array
    angle: Array | float = 0.0


@dataclass(frozen=True, eq=False)
class FieldMesh:
    """Points (n, 3) [m] and blocks of cells."""

    points: Array
    blocks: tuple[Block, ...]

    @property
    def cells(self) -> list[tuple[str, Numbers]]:
        """Kind and corners of each block for meshio."""
        return [(block.kind, block.corners) for block in self.blocks]

    def cell_data(self, result: Result, k: int) -> dict[str, list[Array]]:
        """Fields of frame k [SI] for meshio: a list with one array per block of cells."""
        fields = {name: np.ravel(field) for name, field in result.frames.fields(k).items()}
        u_r, u_z = fields.pop("u_r"), fields.pop("u_z")
        data = {
            name: [np.asarray(field[block.cell], dtype=float) for block in self.blocks]
            for name, field in fields.items()
        }
        data["velocity"] = [
            np.column_stack(
                (
                    u_r[block.cell] * np.cos(block.angle),
                    u_r[block.cell] * np.sin(block.angle),
                    u_z[block.cell],
                )
            )
            for block in self.blocks
        ]
        data["open_volume"] = [block.open_volume for block in self.blocks]
        return data

    def frame(self, result: Result, k: int) -> meshio.Mesh:
        """Frame k as a mesh with its fields."""
        return meshio.Mesh(self.points, self.cells, cell_data=self.cell_data(result, k))


def write_vtu(result: Result, mesh: FieldMesh, frames: Sequence[int], path: Path) -> None:
    """One frame as PATH; several as NAME_0000.vtu ... and an index NAME.pvd of their times."""
    if len(frames) == 1:
        meshio.write(path, mesh.frame(result, frames[0]))
        return
    root = ET.Element("VTKFile", type="Collection", version="0.1")
    collection = ET.SubElement(root, "Collection")
    for k in frames:
        file = path.with_name(f"{path.stem}_{k:04d}.vtu")
        meshio.write(file, mesh.frame(result, k))
        ET.SubElement(
            collection, "DataSet", timestep=f"{result.frames.t[k]:.9g}", part="0", file=file.name
        )
    ET.ElementTree(root).write(path.with_suffix(".pvd"), "utf-8", xml_declaration=True)


def write_xdmf(result: Result, mesh: FieldMesh, frames: Sequence[int], path: Path) -> None:
    """All frames as PATH, their numbers beside it in NAME-data.h5.

    The numbers have another name, since NAME.h5 may be the exported result.
    """
    written = path.with_name(f"{path.stem}-data.xdmf")
    with _Series(written) as writer:
        writer.write_points_cells(mesh.points, mesh.cells)
        for k in frames:
            data = mesh.cell_data(result, k)
            writer.write_data(float(result.frames.t[k]), cell_data=data)
    written.replace(path)


class _Series(meshio.xdmf.TimeSeriesWriter):  # type: ignore[misc]
    """Writes the numbers beside the XDMF file; meshio itself writes them to the current folder."""

    def __enter__(self) -> Self:
        place = self.filename.with_suffix(".h5")
        self.h5_filename = place.name
        self.h5_file = h5py.File(place, "w")
        return self
