"""Files that appear whole or not at all: written in a folder aside, then moved into place."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sinkbowl.files.scratch import scratch

KIND = ".sinkbowl-aside-"
"""Beginning of the names of such folders."""


@contextmanager
def written_aside(folder: Path) -> Iterator[Path]:
    """A new folder inside ``folder``; at the end of the ``with`` block its files move up.

    An error in the block removes everything that was written; what a killed process left of such a
    folder is removed first.
    """
    with scratch(KIND, folder) as place:
        aside = place / "files"
        aside.mkdir()
        yield aside
        for file in sorted(aside.iterdir()):
            file.replace(folder / file.name)
