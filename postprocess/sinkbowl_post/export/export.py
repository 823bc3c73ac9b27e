"""What a run can be exported to, by the suffix of the file name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from sinkbowl.errors import ResultError
from sinkbowl.running.result import Result
from sinkbowl_post.export.aside import written_aside
from sinkbowl_post.export.history_table import export_history
from sinkbowl_post.export.series import write_vtu, write_xdmf
from sinkbowl_post.style import check_output

MESH_WRITERS: dict[str, Callable[[Result, Sequence[int], Path], None]] = {
    ".vtu": write_vtu,
    ".xdmf": write_xdmf,
}
SUFFIXES = (".csv", *MESH_WRITERS)


def export(result: Result, path: Path, frame: int | None = None) -> str:
    """Write a run for other programs and say what was written.

    Parameters
    ----------
    path : .csv for the history; .vtu or .xdmf for the fields of the frames
    frame : number of the only frame to write, counted from 0, negative from the end; None for all

    Raises
    ------
    ResultError : another suffix, a missing folder, nothing to export, or no such frame
    """
    check_output(path, SUFFIXES)
    suffix = path.suffix.lower()
    if suffix == ".csv":
        if frame is not None:
            raise ResultError(f"{path}: a table has no frames. Give .vtu or .xdmf, or no --frame.")
        return f"{export_history(result, path)} time steps"
    frames = _chosen(result, frame)
    with written_aside(path.parent) as aside:
        MESH_WRITERS[suffix](result, frames, aside / path.name)
        names = sorted(file.name for file in aside.iterdir())
    listed = ", ".join(names) if len(names) < 4 else f"{names[0]} and {len(names) - 1} more files"
    return f"{len(frames)} frames in {listed}"


def _chosen(result: Result, frame: int | None) -> Sequence[int]:
    count = len(result.frames)
    if count == 0:
        raise ResultError(f"{result.path}: holds no frames to export (status: {result.status}).")
    if frame is None:
        return range(count)
    if not -count <= frame < count:
        raise ResultError(f"--frame {frame}: {result.path} has frames 0 to {count - 1}.")
    return (frame % count,)
