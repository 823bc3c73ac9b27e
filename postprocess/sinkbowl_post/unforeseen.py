"""Internal errors: one line for the user, details in a file for the authors.

The file is in a private folder of the user, since a traceback contains file names and arguments.
Folder and file are never links.
"""

import os
import platform
import stat
import sys
import traceback
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from uuid import uuid4

from platformdirs import user_state_path

FOLDER = "errors"  # name of the folder, in the user's folder for logs
MOST_KEPT = 20  # maximum number of files; the oldest is removed first


def message_of(error: BaseException, arguments: Sequence[str] | None) -> str:
    """Message for an error, after writing its details to a file.

    arguments : of the command line, None for those of this process
    """
    frames = traceback.extract_tb(error.__traceback__)
    where = f", {Path(frames[-1].filename).name} line {frames[-1].lineno}" if frames else ""
    what = " ".join(f"{type(error).__name__}: {error}".split())
    details = (
        f"sinkbowl {version('sinkbowl')}, Python {platform.python_version()}, "
        f"{platform.platform()}, {datetime.now(UTC):%Y-%m-%d %H:%M} UTC\n"
        f"command: {sys.argv[1:] if arguments is None else [*arguments]!r}\n\n"
        f"{''.join(traceback.format_exception(error))}"
    )
    try:
        place = f"The details are in {_written(details)}; please send them."
    except OSError as reason:
        place = f"The details cannot be written ({reason})."
    return f"internal error ({what[:200]}{where}). {place}"


def _written(text: str) -> Path:
    """The written file; OSError without a private place for it."""
    folder = user_state_path("sinkbowl") / FOLDER
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)
    _check_private(folder)
    path = folder / f"{datetime.now(UTC):%Y%m%d-%H%M%S}-{uuid4().hex[:8]}.txt"
    only_new = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)
    with os.fdopen(os.open(path, only_new, 0o600), "w", encoding="utf-8", errors="replace") as file:
        file.write(text)
    for old in sorted(folder.glob("*-*-????????.txt"))[:-MOST_KEPT]:
        old.unlink(missing_ok=True)
    return path


def _check_private(folder: Path) -> None:
    """Refuse a folder that is a link, or that others own or may enter."""
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode):
        raise NotADirectoryError(f"{folder} is not a folder, or is a link to one")
    if hasattr(os, "getuid") and (found.st_uid != os.getuid() or found.st_mode & 0o077):
        raise PermissionError(f"{folder} is open to other users")
