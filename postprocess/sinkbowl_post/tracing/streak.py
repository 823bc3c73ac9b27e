"""One line of a clip, stacked over time: a picture with time across and the line upright."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.ndimage import map_coordinates

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.clip import Clip, opened
from sinkbowl_post.tracing.marks import Marks, read_marks
from sinkbowl_post.tracing.patience import Patience

ACROSS = 5
"""Pixels side by side of which each step of the line takes the mean."""
LARGEST = 20_000_000
"""Pixels of the stacked picture beyond which a clip is refused: half a gigabyte at work."""


@dataclass(frozen=True, eq=False)
class Streak:
    """The line's grey over time.

    Attributes
    ----------
    clip, marks : where it comes from
    grey : (n, m) of n steps down the line in m frames, 0 to 255
    """

    clip: Clip
    marks: Marks
    grey: FloatArray


def read_streak(
    path: Path, line: str, length: str, water: float, patience: Patience | None = None
) -> Streak:
    """Stack a clip's line.

    Raises
    ------
    CaseError : as for `opened` and `read_marks`, or line times frames are too many
    """
    with opened(path, patience) as (clip, frames):
        marks = read_marks(clip, line, length, water)
        places = marks.points(ACROSS)
        columns: list[FloatArray] = []
        for frame in frames:
            seen = map_coordinates(frame, places, np.float32, order=1, mode="nearest")
            columns.append(seen.mean(axis=0))
            if len(columns) * places.shape[2] > LARGEST:
                raise CaseError(
                    f"Is too long for a line of {places.shape[2]} pixels",
                    file=path,
                    allowed="Cut it to the sinking and a second around it.",
                )
    return Streak(clip, marks, np.stack(columns, axis=1))
