"""The place that a result is to take: whether it may be written, told before any long work."""

from __future__ import annotations

import os
from pathlib import Path

from sinkbowl.common.errors import ResultError
from sinkbowl.files.strange_links import refuse_link
from sinkbowl.files.work_file import WorkFile


def check_target(path: Path, overwrite: bool) -> None:
    """Refuse a result file that cannot or must not be written, before any long work.

    Raises
    ------
    ResultError : the folder is missing, or the file exists and is not to be replaced
    """
    if not path.parent.is_dir():
        raise ResultError(f"{path}: the folder {path.parent} does not exist. Make it first.")
    if path.is_dir():
        raise ResultError(f"{path}: is a folder. Give the name of a file, such as {path}/run.h5.")
    if path.exists() and not overwrite:
        raise ResultError(
            f"{path}: exists already. Give another name, or --overwrite to replace it."
        )
    if not os.access(path.parent, os.W_OK):
        raise ResultError(f"{path}: the folder {path.parent} is not writable.")


def open_work_file(path: Path, content: Path | None = None) -> WorkFile:
    """The working file of a result, empty or a copy.

    Raises
    ------
    ResultError : another run writes it, or it cannot be made
    """
    refuse_link(path.with_name(path.name + ".part"))
    try:
        return WorkFile(path, content)
    except OSError as error:
        raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error
