"""Export of a run, by the suffix of the file name: all frames, or those of a number or of times."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from sinkbowl.common.errors import InputRefused, ResultError
from sinkbowl.common.shown import plural, seconds
from sinkbowl.common.text_file import csv_text
from sinkbowl.common.units import Kind, read_quantity
from sinkbowl.files.record import DATASETS
from sinkbowl.files.result import Result, read_result
from sinkbowl_post.exporting.field_mesh import FieldMesh, write_vtu, write_xdmf
from sinkbowl_post.exporting.section_mesh import Section, revolved
from sinkbowl_post.output import check_output, write_whole, written_aside

Writer = Callable[[Result, FieldMesh, Sequence[int], Path], None]
MESH_WRITERS: dict[str, tuple[Callable[[Section], FieldMesh], Writer]] = {
    ".vtu": (Section.as_polygons, write_vtu),
    ".xdmf": (Section.as_triangles, write_xdmf),
}
"""Cells possible in the format (meshio writes no polygons to XDMF), and writer."""

MOST_CELLS = 40_000_000  # maximum of cells times frames (several GB)

TIME = Kind("a time", "s", "0 s", "1000 hour", "0.5 s")


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

    Raises ResultError for another suffix, a missing folder, nothing to export, no such frame or
    time, or options of a mesh for a table.
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
    return f"{plural(count, 'frame')} in {listed}{text}"


def export_history(result: Result, path: Path, comma: bool = False) -> int:
    """Write the history of a run as CSV: SI, one row per time step; returns the number of rows.

    Raises ResultError if the name does not end in .csv, its folder is missing, or there is no
    history.
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


def chosen_frames(result: Result, frame: int | None, times: Sequence[str]) -> tuple[list[int], str]:
    """Frames in order of time, and a description if times were given.

    frame : number of the only one, counted from 0, negative from the end
    times : each "0.5 s", the nearest frame, or "0.2 s:0.6 s", all frames between; without frame and
        times: all frames

    Raises ResultError if frame and times are both given, or the run has no such frame.
    """
    if times and frame is not None:
        raise ResultError("--frame and --time both pick frames. Give one of the two.")
    count = len(result.frames)
    if count == 0 or not result.grid:
        raise ResultError(f"{result.path}: has no frames to export (status: {result.status}).")
    if times:
        picked = [_of_one(result, given) for given in times]
        frames = sorted({number for found, _ in picked for number in found})
        return frames, "; ".join(words for _, words in picked)
    if frame is None:
        return list(range(count)), ""
    if not -count <= frame < count:
        raise ResultError(f"--frame {frame}: {result.path} has frames 0 to {count - 1}.")
    return [frame % count], ""


def _of_one(result: Result, given: str) -> tuple[list[int], str]:
    first, colon, last = given.partition(":")
    t, low = result.frames.t, _time(given, first)
    if not colon:
        slack = float(np.max(np.diff(t))) if len(t) > 1 else 0.0
        if not t[0] - slack <= low <= t[-1] + slack:
            words = f'--time "{given}": the run has no frame near that time. {_span(result)}'
            raise ResultError(words)
        nearest = int(np.argmin(np.abs(t - low)))
        return [nearest], f"{given.strip()}: frame {nearest}, at {seconds(float(t[nearest]))}"
    found = np.flatnonzero((t >= low) & (t <= _time(given, last))).tolist()
    if not found:
        raise ResultError(f'--time "{given}": there is no frame. {_span(result)}')
    return found, f"{given.strip()}: frames {found[0]} to {found[-1]}"


def _time(given: str, text: str) -> float:
    try:
        return read_quantity(text, TIME)
    except InputRefused as error:
        raise ResultError(
            f'--time "{given}" {error}. Write "0.5 s", or "0.2 s:0.6 s" for all between.'
        ) from None


def _span(result: Result) -> str:
    t = result.frames.t
    first, last = float(t[0]), float(t[-1])
    return f"{result.path} has {len(t)} frames from {seconds(first, last)} to {seconds(last)}."
