"""Folder of compiled kernels, and the check that it can be trusted.

Numba unpickles the files in its cache, which executes whatever they contain. So a folder is used
only if it, its contents and all folders above belong to the user (or root) and nobody else can
write to them; otherwise kernels are compiled into a new private folder, removed when the process
ends. Windows protects the user's folders itself.
"""

import atexit
import os
import shutil
import stat
import sys
import tempfile
import warnings
from pathlib import Path

HOME_KEY = "NUMBA_CACHE_DIR"
"""Environment variable that names another home; child processes inherit it."""

ROOT = 0
"""User that may do everything, and may have filled a shared cache."""

OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH
OTHERS_ENTER = stat.S_IRWXG | stat.S_IRWXO


def place_for(home: Path, *inside: str) -> Path:
    """A private folder of the user: in `home` or, with a warning, a temporary one.

    home : its parent
    inside : path from `home`, one name per folder
    """
    if not hasattr(os, "getuid"):
        return home.joinpath(*inside)
    folder = home.resolve().joinpath(*inside)  # no link on the way can be turned elsewhere later
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
        strange = found_strange(folder)
    except OSError as error:
        strange = f"{folder} cannot be used ({error.strerror})"
    if strange is None:
        return folder
    return _private(strange).joinpath(*inside)


def found_strange(folder: Path) -> str | None:
    """Reason why a folder cannot be trusted, in words; None if it can.

    Raises OSError if it cannot be read.
    """
    if sys.platform == "win32":
        return None  # rights are no bits there, and the user's cache lies in the user's profile
    top = folder.lstat()
    entered = top.st_mode & OTHERS_ENTER
    for path in (folder, *folder.rglob("*")):
        try:
            found = path.lstat()
        except FileNotFoundError:  # another process has just renamed what it wrote
            continue
        if found.st_uid not in (os.getuid(), ROOT):
            return f"{path} belongs to another user"
        if stat.S_ISLNK(found.st_mode):
            return f"{path} is a link"
        if entered and found.st_mode & OTHERS_WRITE:
            return f"others can write to {path}"
    masters = (os.getuid(), ROOT, folder.parents[-1].stat().st_uid)  # root, as containers show it
    for above in folder.parents:
        found = above.stat()
        if found.st_uid not in masters:
            return f"{above} belongs to another user, who can rename its files"
        if found.st_mode & stat.S_IWOTH and not found.st_mode & stat.S_ISVTX:
            return f"anybody can rename files in {above}"
    return None


def _private(strange: str) -> Path:
    """A new home for this process and its children."""
    home = Path(tempfile.mkdtemp(prefix="sinkbowl-"))
    os.environ[HOME_KEY] = str(home)
    owner = os.getpid()

    def remove() -> None:
        if os.getpid() == owner:
            shutil.rmtree(home, ignore_errors=True)

    atexit.register(remove)
    warnings.warn(
        f"Kernels are compiled again for this call only: {strange}. Remove it, or set "
        f"{HOME_KEY} to a folder of your own.",
        RuntimeWarning,
        stacklevel=2,
    )
    return home
