"""The frames of a run as open mesh formats: VTU files with a PVD index, or an XDMF time series."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path
from typing import Self

import h5py
import meshio

from sinkbowl.files.result import Result
from sinkbowl_post.exporting.field_mesh import FieldMesh


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

    The numbers get a name of their own: NAME.h5 may well be the result that is exported.
    """
    written = path.with_name(f"{path.stem}-data.xdmf")
    with _Series(written) as writer:
        writer.write_points_cells(mesh.points, mesh.cells)
        for k in frames:
            data = mesh.cell_data(result, k)
            writer.write_data(float(result.frames.t[k]), cell_data=data)
    written.replace(path)


class _Series(meshio.xdmf.TimeSeriesWriter):  # type: ignore[misc]
    """Puts the numbers beside the XDMF file; meshio itself puts them in the current folder."""

    def __enter__(self) -> Self:
        place = self.filename.with_suffix(".h5")
        self.h5_filename = place.name
        self.h5_file = h5py.File(place, "w")
        return self
