"""The place that a result is to take: whether it may be written, told before any long work."""

from __future__ import annotations

import os
import warnings
from pathlib import Path

from sinkbowl.common.errors import ResultError
from sinkbowl.files.untrusted_folder import check_output, open_to_others
from sinkbowl.files.work_file import WorkFile


def check_target(path: Path, overwrite: bool) -> None:
    """Refuse a result file that cannot or must not be written, before any long work.

    Raises
    ------
    ResultError : the folder is missing, or the file exists and is not to be replaced, or is no
        ordinary one
    """
    if not path.parent.is_dir():
        raise ResultError(f"{path}: the folder {path.parent} does not exist. Create it first.")
    check_output(path)
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

    Raises
    ------
    ResultError : another run writes it, or it cannot be made
    """
    try:
        return WorkFile(path)
    except OSError as error:
        raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error
