"""Files that survive whatever happens to the machine a moment later."""

from __future__ import annotations

import os
from pathlib import Path


def bring_to_disk(path: Path) -> None:
    """Wait until the disk holds a file, or the names in a folder."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
