"""Temporary folders of a command; those of killed commands are removed by the next one.

A killed process cannot remove its folder. So each folder has a lock of its owner, which the system
releases when the process ends; a command that makes a folder of the same kind in the same place
first removes those with a free lock. Folders without such a lock are left alone.
"""

import os
import shutil
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import gettempdir, mkdtemp
from time import time

from filelock import lock_descriptor

from sinkbowl.common.errors import ResultError
from sinkbowl.files.safe_writing import OPENED

LOCK = ".held"  # file in each folder that its owner keeps locked
IN_THE_MAKING = 3600.0  # age from which an empty folder without a lock file counts as abandoned [s]


@contextmanager
def scratch(kind: str, place: Path | None = None) -> Iterator[Path]:
    """A new folder, removed with its contents at the end of the ``with`` block.

    kind : beginning of its name, unique to this program
    place : its parent; None for the folder for temporary files

    Raises ResultError if there is no space, or no permission to write.
    """
    try:
        place = Path(gettempdir()) if place is None else place
        for abandoned in place.glob(f"{kind}*"):
            with suppress(OSError):
                if _is_dead(abandoned):
                    shutil.rmtree(abandoned, ignore_errors=True)
        folder, lock = _made(kind, place)
    except OSError as error:
        where = "the folder for temporary files" if place is None else place
        raise ResultError(f"{where}: cannot be written ({error.strerror or error}).") from error
    try:
        yield folder
    finally:
        os.close(lock)
        shutil.rmtree(folder, ignore_errors=True)


def _made(kind: str, place: Path) -> tuple[Path, int]:
    """A folder and the descriptor of its held lock."""
    while True:
        folder = Path(mkdtemp(prefix=kind, dir=place))
        lock = os.open(folder / LOCK, OPENED | os.O_CREAT | os.O_EXCL, 0o600)
        with suppress(OSError):  # some network disks have no locks
            lock_descriptor(lock, blocking=False)
        with suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(lock), os.stat(folder / LOCK)):
                return folder, lock
        os.close(lock)  # another process removed it before it was locked


def _is_dead(folder: Path) -> bool:
    """Whether a folder of this program is abandoned; OSError if that is unknown."""
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or (hasattr(os, "getuid") and found.st_uid != os.getuid()):
        return False
    try:
        lock = os.open(folder / LOCK, OPENED)
    except FileNotFoundError:
        return time() - found.st_mtime > IN_THE_MAKING and not any(folder.iterdir())
    try:
        return lock_descriptor(lock, blocking=False)
    finally:
        os.close(lock)
