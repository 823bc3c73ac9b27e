"""Checks of output names; files are written to a temporary folder and appear when complete."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from sinkbowl.common.errors import ResultError
from sinkbowl.files import safe_writing
from sinkbowl.files.safe_writing import scratch

KIND = ".sinkbowl-aside-"  # beginning of the names of these folders


def check_output(path: Path, suffixes: tuple[str, ...]) -> None:
    """Refuse a file name that cannot be written, before any long work.

    Raises ResultError for a suffix not in ``suffixes``, a folder that does not exist, or not an
    ordinary file.
    """
    if path.suffix.lower() not in suffixes:
        raise ResultError(f"{path}: give a file name that ends in {' or '.join(suffixes)}.")
    if not path.parent.is_dir():
        raise ResultError(f"{path}: the folder {path.parent} does not exist. Create it first.")
    safe_writing.check_output(path)


def checked_outputs(
    given: str | Path | Sequence[str | Path], suffixes: tuple[str, ...]
) -> list[Path]:
    """One or several names of files to write, each checked."""
    paths = [Path(one) for one in ([given] if isinstance(given, str | Path) else given)]
    for path in paths:
        check_output(path, suffixes)
    return paths


@contextmanager
def written_aside(folder: Path) -> Iterator[Path]:
    """A new folder inside ``folder``; at the end of the ``with`` block its files are moved there.

    An error in the block removes its files; folders of killed processes are removed first. Raises
    ResultError if the files cannot be written, for instance on a full disk, or replace something
    else.
    """
    with scratch(KIND, folder) as place:
        aside = place / "files"
        try:
            aside.mkdir()
            yield aside
            finished = sorted(aside.iterdir())
            for file in finished:
                safe_writing.check_output(folder / file.name)
            for file in finished:
                file.replace(folder / file.name)
        except OSError as error:
            raise ResultError(f"{folder}: cannot be written ({_reason(error)}).") from error


def write_whole(path: Path, content: bytes) -> None:
    """Write a file that appears when it is complete; errors as of `written_aside`."""
    with written_aside(path.parent) as aside:
        (aside / path.name).write_bytes(content)


def _reason(error: OSError) -> str:
    """The system's message of an error, without the additions of HDF5 and encoders."""
    if error.errno is not None:
        return os.strerror(error.errno)
    return str(error).strip().partition("\n")[0]
