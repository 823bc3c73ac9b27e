"""Writing in folders that other users can write to, and so that files survive a crash.

An output must be an ordinary file or not exist. Auxiliary files beside it are new, or the user's
own without a second name; they are opened once, and before they are renamed their name is checked
again.

A killed command cannot remove its temporary folder. So each folder has a lock of its owner, which
the system releases when the process ends; a command that makes a folder of the same kind in the
same place first removes those with a free lock. Folders without such a lock are left alone.
"""

import errno
import os
import shutil
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from io import BufferedRandom
from pathlib import Path
from tempfile import gettempdir, mkdtemp
from typing import IO

from filelock import lock_descriptor

from sinkbowl.common.errors import ResultError

WINDOWS = sys.platform == "win32"  # on Windows an open file cannot be renamed, replaced or removed

PATIENCE, PAUSE = 30.0, 0.2
"""Waiting time for a file open elsewhere on Windows, and time between two tries [s]."""

OPENED = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
"""Flags to open such a file without following links."""

ROOT = 0  # user whose files count as the user's own, as on some network disks


def check_output(path: Path) -> None:
    """Refuse an output that is a link, device, pipe, socket or folder; ResultError."""
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
    """Whether every user of the machine can rename and replace files in a folder."""
    mode = folder.stat().st_mode
    return hasattr(os, "getuid") and bool(mode & stat.S_IWOTH) and not mode & stat.S_ISVTX


def make_anew(path: Path) -> BufferedRandom:
    """A new, empty file; a previous file or link of this name is removed, not the link's target.

    Raises OSError if it cannot be created, or another process has just created it.
    """
    path.unlink(missing_ok=True)
    return path.open("x+b")


def open_own(path: Path) -> int:
    """Descriptor of a file of the user, for reading and writing; created if missing.

    Raises ResultError for a link and a file with a second name or another owner, OSError if it
    cannot be opened.
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
    """Descriptor of a file of the user with its lock held; None if another process holds it.

    Raises ResultError, OSError as `open_own`.
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
    """Whether an open file still has its name."""
    try:
        return os.path.samestat(os.fstat(file), path.lstat())
    except FileNotFoundError:
        return False


def _mode(path: Path) -> int | None:
    try:
        return path.lstat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None


def put_in_place(finished: IO[bytes], name: Path, target: Path) -> None:
    """Rename a finished file to its target after flushing it to disk; the target is replaced.

    finished : the file, open for writing; closed on Windows, which requires that
    name : its present name

    Raises OSError if the name now belongs to another file; the target is unchanged, as after any
    error.
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


ZEROS = bytes(1 << 20)  # block that is written where the system cannot allocate space otherwise


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
        return time.time() - found.st_mtime > IN_THE_MAKING and not any(folder.iterdir())
    try:
        return lock_descriptor(lock, blocking=False)
    finally:
        os.close(lock)
