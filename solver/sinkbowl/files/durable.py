"""Files that survive a crash of the machine."""

import errno
import os
import sys
import time
from pathlib import Path
from typing import IO

from sinkbowl.files.untrusted_folder import is_still

WINDOWS = sys.platform == "win32"
"""On Windows an open file cannot be renamed, replaced or removed."""

PATIENCE, PAUSE = 30.0, 0.2
"""Waiting time for a file open elsewhere on Windows, and time between two tries [s]."""


def put_in_place(finished: IO[bytes], name: Path, target: Path) -> None:
    """Rename a finished file to its target after flushing it to disk; the target is replaced.

    Parameters
    ----------
    finished : the file, open for writing; closed on Windows, which requires that
    name : its present name

    Raises
    ------
    OSError : the name now belongs to another file; the target is unchanged, as after any error
    """
    finished.flush()
    os.fsync(finished.fileno())
    if not is_still(finished.fileno(), name):
        raise OSError(errno.ESTALE, "another program has replaced it in the meantime", str(name))
    if WINDOWS:
        finished.close()
    patience = PATIENCE if WINDOWS else 0.0
    while True:
        try:
            return os.replace(name, target)
        except PermissionError:
            # A reader or a virus scanner; most finish soon.
            if patience <= 0.0:
                raise
        time.sleep(PAUSE)
        patience -= PAUSE


def bring_to_disk(folder: Path) -> None:
    """Flush the names in a folder to disk (Windows does this itself)."""
    if WINDOWS:
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def reserve(path: Path, size: int) -> None:
    """Create a file of zeros of a size [bytes], with its disk space allocated.

    Raises OSError if there is not enough space.
    """
    with path.open("wb") as file:
        if hasattr(os, "posix_fallocate"):
            os.posix_fallocate(file.fileno(), 0, size)
            return
        for begin in range(0, size, len(ZEROS)):
            file.write(ZEROS[: size - begin])


ZEROS = bytes(1 << 20)
"""Block that is written where the system cannot allocate space otherwise."""
