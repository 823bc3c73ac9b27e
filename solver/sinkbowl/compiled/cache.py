"""Cache of compiled kernels: its folder, which must be trusted, and tolerance of damage in it.

Numba unpickles the files in its cache, which executes whatever they contain. So a folder is used
only if it, its contents and all folders above belong to the user (or root) and nobody else can
write to them; otherwise kernels are compiled into a new private folder, removed when the process
ends. Windows protects the user's folders itself.

Numba raises any exception that unpickling a truncated file gives, and disk errors when it stores a
kernel. Here an unreadable kernel is compiled and stored again, and on a full disk a kernel is
compiled for this process only.
"""

import atexit
import logging
import os
import shutil
import stat
import sys
import tempfile
import warnings
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from numba.core.caching import FunctionCache
from numba.core.dispatcher import Dispatcher

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


unkept: list[str] = []
"""Reasons why kernels could not be cached, in order."""


@cache
def _tell() -> None:
    """Log the first compilation of this process."""
    logging.getLogger("sinkbowl").info("Compiling the models, once: up to half a minute.")


class PatientCache(FunctionCache):
    """Numba's cache of one function, without errors."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The compiled function of a signature; None if none can be read.

        Numba's own method first loads everything that compiling needs, including scipy.linalg: half
        a second that machine code does not need.
        """
        found = None
        try:
            with self._guard_against_spurious_io_errors():
                found = self._load_overload(sig, target_context)
        except Exception:  # bytes that are not what was written can raise anything
            self._forget()
        if found is None:
            _tell()
        return found

    def save_overload(self, sig: Any, data: Any) -> None:
        """Store a compiled function if the disk allows it."""
        try:
            super().save_overload(sig, data)  # type: ignore[no-untyped-call]
        except OSError as error:
            unkept.append(str(error))
            self.disable()

    def _forget(self) -> None:
        """Empty the index, which may be damaged; the next stored function starts a new one."""
        try:
            self.flush()
        except OSError as error:
            unkept.append(str(error))
            self.disable()


def kept(compile_: Callable[..., Any], function: Callable[..., Any], **options: Any) -> Any:
    """A function compiled with its cache on disk; without a cache if no folder is writable.

    compile_ : compiler, called with these options and `cache`
    """
    try:
        compiled = compile_(function, cache=True, **options)
    except RuntimeError as error:  # numba found no folder for its cache
        unkept.append(str(error))
        return compile_(function, cache=False, **options)
    if isinstance(compiled, Dispatcher):
        compiled._cache = PatientCache(function)  # type: ignore[attr-defined]
    return compiled
