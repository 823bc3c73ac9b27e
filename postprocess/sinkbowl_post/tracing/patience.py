"""How far the work on a clip is, and its end after a minute: clips come in all sizes."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from sinkbowl.common.errors import CaseError

LONGEST = 60.0
"""Seconds after which a clip is given up."""


class Patience:
    """Told of each frame, shows progress and gives a clip up that takes too long.

    Parameters
    ----------
    path : the clip
    show : called with frames done and their number; None: nobody looks
    """

    def __init__(self, path: Path, show: Callable[[int, int], None] | None = None) -> None:
        self.path, self.show = path, show
        self.ends = time.monotonic() + LONGEST

    def step(self, done: int, total: int | None) -> None:
        """Go on, or raise `CaseError` where the time is up."""
        if self.left == 0.0:
            raise CaseError(
                f"Takes longer than {LONGEST:.0f} s to trace, given up at step {done}"
                + (f" of {total}" if total else ""),
                file=self.path,
                allowed="Cut the clip to the sinking and a second around it, or make it from fewer "
                "pixels: 1280 x 720 are enough.",
            )
        if self.show is not None and total:
            self.show(min(done, total), total)

    @property
    def left(self) -> float:
        """Seconds that are left."""
        return max(self.ends - time.monotonic(), 0.0)
