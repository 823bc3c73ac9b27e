"""Files that survive whatever happens to the machine a moment later."""

from __future__ import annotations

import errno
import os
import sys
import time
from pathlib import Path
from typing import IO

from sinkbowl.files.untrusted_folder import is_still

WINDOWS = sys.platform == "win32"
"""There no file can be renamed, replaced or removed while anybody has it open."""

PATIENCE, PAUSE = 30.0, 0.2
"""How long a file that is open elsewhere is waited for on Windows, and between two tries [s]."""


def put_in_place(finished: IO[bytes], name: Path, target: Path) -> None:
    """Give a finished file its name, once the disk holds all of it; what was there goes.

    Parameters
    ----------
    finished : the file, open to be written; Windows needs it closed, so it is closed there
    name : that it has now

    Raises
    ------
    OSError : the name was given to another file meanwhile; the target is as it was then, as always
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
            # A reader, or a scanner of viruses; most are done in a moment.
            if patience <= 0.0:
                raise
        time.sleep(PAUSE)
        patience -= PAUSE


def bring_to_disk(folder: Path) -> None:
    """Wait until the disk holds the names in a folder (Windows sees to these itself)."""
    if WINDOWS:
        return
    handle = os.open(folder, os.O_RDONLY)
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
