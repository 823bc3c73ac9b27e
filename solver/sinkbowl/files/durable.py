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
