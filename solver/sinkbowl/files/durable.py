"""Files that survive whatever happens to the machine a moment later."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

WINDOWS = sys.platform == "win32"
"""There no file can be renamed, replaced or removed while anybody has it open."""

PATIENCE, PAUSE = 30.0, 0.2
"""How long a file that is open elsewhere is waited for on Windows, and between two tries [s]."""


def put_in_place(finished: Path, target: Path) -> None:
    """Give a finished file its name, once the disk holds all of it; what was there goes.

    Raises
    ------
    OSError : the target is as it was
    """
    bring_to_disk(finished)
    patience = PATIENCE if WINDOWS else 0.0
    while True:
        try:
            return os.replace(finished, target)
        except PermissionError:
            # A reader, or a scanner of viruses; most are done in a moment.
            if patience <= 0.0:
                raise
        time.sleep(PAUSE)
        patience -= PAUSE


def bring_to_disk(path: Path) -> None:
    """Wait until the disk holds a file, or the names in a folder (Windows sees to these itself)."""
    if WINDOWS and path.is_dir():
        return
    handle = os.open(path, os.O_RDWR if WINDOWS else os.O_RDONLY)
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
