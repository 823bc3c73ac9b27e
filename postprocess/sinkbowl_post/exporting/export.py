"""Export of a run, by the suffix of the file name."""

from collections.abc import Callable, Sequence
from pathlib import Path

from sinkbowl.common.errors import ResultError
from sinkbowl.common.table import csv_text
from sinkbowl.files.record import DATASETS
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.exporting.field_mesh import FieldMesh, write_vtu, write_xdmf
from sinkbowl_post.exporting.frame_choice import chosen_frames
from sinkbowl_post.exporting.revolved_mesh import revolved
from sinkbowl_post.exporting.section_mesh import Section
from sinkbowl_post.output import check_output, write_whole, written_aside

Writer = Callable[[Result, FieldMesh, Sequence[int], Path], None]
MESH_WRITERS: dict[str, tuple[Callable[[Section], FieldMesh], Writer]] = {
    ".vtu": (Section.as_polygons, write_vtu),
    ".xdmf": (Section.as_triangles, write_xdmf),
}
"""Cells possible in the format (meshio writes no polygons to XDMF), and writer."""

MOST_CELLS = 40_000_000
"""Maximum of cells times frames (several GB)."""


def export(
    result: Result | str | Path,
    path: str | Path,
    frame: int | None = None,
    *,
    times: Sequence[str] = (),
    sectors: int | None = None,
    comma: bool = False,
) -> str:
    """Write a run for other programs; returns a description.

    Parameters
    ----------
    result : the run, or its file
    path : .csv for the history; .vtu or .xdmf for the fields of the frames
    frame : number of the only frame to write, counted from 0, negative from the end
    times : of the frames to write, "0.5 s" or "0.2 s:0.6 s"; without `frame` and times all frames
    sectors : of the section revolved about the axis; None for the section itself
    comma : whether a table has decimal commas, and ; between its cells

    Raises
    ------
    ResultError : another suffix, a missing folder, nothing to export, no such frame or time, or
        options of a mesh for a table
    """
    path, result = Path(path), read_result(result)
    check_output(path, (".csv", *MESH_WRITERS))
    suffix = path.suffix.lower()
    if suffix == ".csv":
        if frame is not None or times or sectors is not None:
            raise ResultError(
                f"{path}: a table has no frames. Give .vtu or .xdmf, or leave out --frame, --time "
                "and --revolve."
            )
        return f"{export_history(result, path, comma)} time steps"
    frames, text = chosen_frames(result, frame, times)
    if comma:
        raise ResultError(f"{path}: --comma is for tables. Give .csv, or leave out --comma.")
    flat, write = MESH_WRITERS[suffix]
    section = Section.of(result)
    mesh = flat(section) if sectors is None else revolved(section, sectors)
    count, cells = len(frames), sum(len(block.cell) for block in mesh.blocks)
    if cells * count > MOST_CELLS:
        raise ResultError(
            f"{count} frames of {cells} cells are too many. Choose frames with --time, or give "
            "fewer sectors."
        )
    with written_aside(path.parent) as aside:
        write(result, mesh, frames, aside / path.name)
        names = sorted(file.name for file in aside.iterdir())
    listed = ", ".join(names) if len(names) < 4 else f"{names[0]} and {len(names) - 1} more files"
    text = f" ({text})" if text else ""
    return f"{count} frame{'s' if count > 1 else ''} in {listed}{text}"


def export_history(result: Result, path: Path, comma: bool = False) -> int:
    """Write the history of a run as CSV: SI, one row per time step; returns the number of rows.

    Raises
    ------
    ResultError : the file name does not end in .csv, its folder is missing, or there is no history
    """
    check_output(path, (".csv",))
    known = [d for d in DATASETS if d.group == "history" and d.column in result.history]
    columns = [result.history[dataset.column] for dataset in known]
    if not len(result.history["t"]):
        raise ResultError(f"{result.path}: has no history yet (status: {result.status}).")
    rows = ([f"{number:.9g}" for number in step] for step in zip(*columns, strict=True))
    head = [f"{dataset.column} [{dataset.units}]" for dataset in known]
    write_whole(path, csv_text(head, rows, comma=comma).encode())
    return len(result.history["t"])
