"""The working file of a run, ``run.h5.part``, beside its result ``run.h5``.

HDF5 changes a file in many small writes; a process killed between two of them leaves it unreadable.
So HDF5 writes to a working file, and a result is created and updated by renaming a finished, sealed
copy: readers always find a consistent file, during a run or after a kill. The working file is
locked, so that a second run with the same output is refused; the next run takes over the file of a
killed one. On Windows a lock excludes all other handles, also the owner's, and an open file cannot
be renamed: all access uses one handle, and the final result is a copy too.

Writes do not fail: the first error is kept for `check`, later writes are discarded. HDF5 cannot
close a file that it cannot write, and would abort the process at exit.

`check_target` refuses unwritable outputs before any long work.
"""

from __future__ import annotations

import io
import os
import shutil
import warnings
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from sinkbowl.common.errors import ResultError
from sinkbowl.files.record import KIND, SCHEMA_VERSION
from sinkbowl.files.safe_reading import seal
from sinkbowl.files.safe_writing import (
    WINDOWS,
    check_output,
    hold,
    is_still,
    make_anew,
    open_to_others,
    put_in_place,
)

if TYPE_CHECKING:
    from collections.abc import Buffer, Callable

COPIED = 1 << 20  # block size of copies [bytes]


class WorkFile(io.FileIO):
    """An open, locked working file; a raw binary stream for h5py.

    target : the result file
    error : of the first failed write, or None
    """

    def __init__(self, target: Path) -> None:
        """Lock and empty the working file of a result.

        Raises ResultError if another run holds the lock, or the file is not the user's, OSError if
        it cannot be created.
        """
        self.target = target
        self.working = target.with_name(target.name + ".part")
        self._copy = target.with_name(target.name + ".new")
        self.error: OSError | None = None
        held = hold(self.working)
        if held is None:
            raise ResultError(
                f"{target}: another run is writing it. Wait until it ends, or give another name."
            )
        super().__init__(held, "r+b")
        try:
            super().truncate(0)
        except OSError:
            self.discard()
            raise

    def take_over(self, content: Path) -> None:
        """Become a copy of a file; OSError if it cannot be copied."""
        with content.open("rb") as source:
            self.seek(0)
            super().truncate(0)
            for part in iter(lambda: source.read(COPIED), b""):
                _write_all(super().write, part)

    def write(self, data: Buffer, /) -> int:
        """Write all of it, or keep the error."""
        view = memoryview(data).cast("B")
        try:
            if self.error is None:
                _write_all(super().write, view)
        except OSError as error:
            self.error = error
        return len(view)

    def truncate(self, size: int | None = None, /) -> int:
        """Set the length, or keep the error."""
        try:
            if self.error is None:
                return super().truncate(size)
        except OSError as error:
            self.error = error
        return size or 0

    def publish(self) -> None:
        """Replace the result by a copy; on failure the result stays."""
        if self.error is not None:
            return
        try:
            with make_anew(self._copy) as copy:
                self.seek(0)
                shutil.copyfileobj(self, copy, COPIED)
                seal(copy, KIND, SCHEMA_VERSION)
                put_in_place(copy, self._copy, self.target)
        except OSError as error:
            self.error = error

    def publish_last(self) -> None:
        """Replace the result by the working file itself and close it."""
        if WINDOWS:
            self.publish()
        elif self.error is None:
            try:
                seal(self, KIND, SCHEMA_VERSION)
                self._copy.unlink(missing_ok=True)
                if self.error is None:
                    put_in_place(self, self.working, self.target)
            except OSError as error:
                self.error = error
        self.discard()

    def discard(self) -> None:
        """Remove the working file and release the lock."""
        if self.closed:
            return
        if WINDOWS:
            # An open file cannot be removed; once closed, the next run may have it.
            self.close()
            for left in (self._copy, self.working):
                with suppress(OSError):
                    left.unlink()
            return
        if is_still(self.fileno(), self.working):
            self._copy.unlink(missing_ok=True)
            self.working.unlink()
        self.close()


def _write_all(write: Callable[[Buffer], int | None], data: Buffer) -> None:
    view = memoryview(data)
    done = 0
    while done < len(view):
        done += write(view[done:]) or 0


def check_target(path: Path, overwrite: bool) -> None:
    """Refuse a result file that cannot or must not be written, before any long work.

    Raises ResultError if the folder is missing, the name does not end in .h5, or the file exists
    and must not be replaced, or is not ordinary.
    """
    if not path.parent.is_dir():
        raise ResultError(f"{path}: the folder {path.parent} does not exist. Create it first.")
    check_output(path)
    if path.suffix.lower() != ".h5":
        raise ResultError(f"{path}: give a file name that ends in .h5.")
    if path.exists() and not overwrite:
        raise ResultError(
            f"{path}: exists already. Give another name, or replace it with --overwrite."
        )
    if not os.access(path.parent, os.W_OK):
        raise ResultError(f"{path}: the folder {path.parent} is not writable.")
    if open_to_others(path.parent):
        warnings.warn(
            f"Every user of this machine can rename and replace files in {path.absolute().parent}, "
            "also those of this run. Remove that right (chmod o-w), or use another folder.",
            RuntimeWarning,
            stacklevel=2,
        )


def open_work_file(path: Path) -> WorkFile:
    """The working file of a result, empty.

    Raises ResultError if another run writes it, or it cannot be created.
    """
    try:
        return WorkFile(path)
    except OSError as error:
        raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error
