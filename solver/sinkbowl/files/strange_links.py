"""Files of fixed names in a folder that others may have prepared: no way leads out through a link.

A link under a name that the package is about to write would have it write somewhere else. So a new
file is made, and never one that is there opened; where one that is there is needed, it must be the
only name of an ordinary file.
"""

from __future__ import annotations

import stat
from io import BufferedRandom
from pathlib import Path

from sinkbowl.common.errors import ResultError


def make_anew(path: Path) -> BufferedRandom:
    """A new, empty file; what had the name loses it, and if that was a link, its target stays.

    Raises
    ------
    OSError : it cannot be made, or somebody else made one in that moment
    """
    path.unlink(missing_ok=True)
    return path.open("x+b")


def refuse_link(path: Path) -> None:
    """Refuse a name that leads elsewhere; pass where there is nothing of the name.

    Raises
    ------
    ResultError : it is a symbolic link, one of several names of a file, or no ordinary file
    """
    try:
        found = path.lstat()
    except OSError:
        return
    if not stat.S_ISREG(found.st_mode) or found.st_nlink > 1:
        raise ResultError(
            f"{path}: is a link, or no ordinary file, and is not written to. Look where it leads, "
            "and remove it."
        )
