"""Files in a folder that others may have prepared, or prepare while we work: no way leads out.

An output is an ordinary file or not there yet. What the package makes beside it for its own use is
a new file, or one of the user's own that has no other name; it is opened once, and before it gets a
name of importance it is looked up whether it still has its own.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from io import BufferedRandom
from pathlib import Path

from filelock import lock_descriptor

from sinkbowl.common.errors import ResultError

OPENED = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
"""How such a file is opened: never what a link of its name leads to, where there are links."""

ROOT = 0
"""Whose files are taken for the user's own: so they look on some disks of other machines."""


def check_output(path: Path) -> None:
    """Refuse to put a file where a link, device, pipe, socket or folder is.

    Raises
    ------
    ResultError
    """
    mode = _mode(path)
    if mode is None or stat.S_ISREG(mode):
        return
    if stat.S_ISDIR(mode):
        raise ResultError(f"{path}: is a folder. Give the name of a file, such as {path}/run.h5.")
    raise ResultError(
        f"{path}: is a link, a device or a pipe, not an ordinary file, and is not replaced. Give "
        "another name."
    )


def open_to_others(folder: Path) -> bool:
    """Whether every user of the machine can rename and replace what lies in a folder."""
    mode = folder.stat().st_mode
    return hasattr(os, "getuid") and bool(mode & stat.S_IWOTH) and not mode & stat.S_ISVTX


def make_anew(path: Path) -> BufferedRandom:
    """A new, empty file; what had the name loses it, and if that was a link, its target stays.

    Raises
    ------
    OSError : it cannot be made, or somebody else made one in that moment
    """
    path.unlink(missing_ok=True)
    return path.open("x+b")


def open_own(path: Path) -> int:
    """Descriptor of a file of the user's own, to read and write; made where there is none.

    Raises
    ------
    ResultError : the name leads elsewhere, or the file has another name or owner as well
    OSError : it cannot be opened
    """
    while True:
        with suppress(FileExistsError):
            return os.open(path, OPENED | os.O_CREAT | os.O_EXCL, 0o666)
        mode = _mode(path)
        if mode is None:
            continue
        if stat.S_ISREG(mode):
            with suppress(FileNotFoundError):
                file = os.open(path, OPENED)
                found = os.fstat(file)
                ours = not hasattr(os, "getuid") or found.st_uid in (os.getuid(), ROOT)
                if found.st_nlink < 2 and ours:
                    return file
                os.close(file)
                if found.st_nlink == 0:
                    continue
        raise ResultError(
            f"{path}: is a link, belongs to another user or is not an ordinary file, and is not "
            "written to. Check it and remove it."
        )


def hold(path: Path) -> int | None:
    """Descriptor of a file of the user's own with its lock held; None where somebody holds it.

    Raises
    ------
    ResultError, OSError : as `open_own`
    """
    while True:
        file = open_own(path)
        try:
            held = lock_descriptor(file, blocking=False)
            if held and is_still(file, path):
                return file
        except OSError:
            os.close(file)
            raise
        os.close(file)
        if not held:
            return None


def is_still(file: int, path: Path) -> bool:
    """Whether an open file is the one that has the name now."""
    try:
        return os.path.samestat(os.fstat(file), path.lstat())
    except FileNotFoundError:
        return False


def _mode(path: Path) -> int | None:
    try:
        return path.lstat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None
