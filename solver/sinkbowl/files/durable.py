"""Files that survive whatever happens to the machine a moment later."""

from __future__ import annotations

import os
from pathlib import Path


def put_in_place(finished: Path, target: Path) -> None:
    """Give a finished file its name, once the disk holds all of it; what was there goes.

    Raises
    ------
    OSError : the target is as it was
    """
    bring_to_disk(finished)
    os.replace(finished, target)


def bring_to_disk(path: Path) -> None:
    """Wait until the disk holds a file, or the names in a folder."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def reserve(path: Path, size: int) -> None:
    """Make a file of zeros [bytes], with all of its room on the disk taken.

    Raises
    ------
    OSError : there is not so much room
    """
    with path.open("wb") as file:
        if hasattr(os, "posix_fallocate"):
            os.posix_fallocate(file.fileno(), 0, size)
            return
        for begin in range(0, size, len(ZEROS)):
            file.write(ZEROS[: size - begin])


ZEROS = bytes(1 << 20)
"""What is written at a time where the system cannot take room otherwise."""
