"""Marks in the picture: a line over the rim, a known length, the water level.

Points are pixels "x,y" on the still's axes: x from the left, y from the top.

Also the line of a clip stacked over time: a picture with time across.
"""

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.ndimage import map_coordinates

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.common.units import Kind, number_of
from sinkbowl_post.tracing.clip import Clip, Patience, opened

NUMBER = r"\s*(\d{1,5}(?:\.\d{1,3})?)\s*"
TWO_POINTS = re.compile(rf"{NUMBER},{NUMBER}:{NUMBER},{NUMBER}")
LENGTH = Kind("a length", "m", "1 mm", "2 m", "60 mm")
LINE_EXAMPLE = "Write two points, the upper one first, e.g. 410,80:410,640."
LENGTH_EXAMPLE = 'Write two points and the distance between them, e.g. "410,120:410,360 = 60 mm".'
SHORTEST = 20.0  # minimum length of a line or length [pixels]
POINTED = 0.5  # standard uncertainty of a point read from the still [pixels]


@dataclass(frozen=True)
class Marks:
    """The marks.

    top, foot : ends (x, y) of the line over the rim [pixels]
    scale : length of a pixel [m]
    scale_uncertainty : standard, relative
    water : position of still water on the line [pixels from its top]
    """

    top: tuple[float, float]
    foot: tuple[float, float]
    scale: float
    scale_uncertainty: float
    water: float

    @property
    def length(self) -> float:
        """Of the line [pixels]."""
        return math.dist(self.top, self.foot)

    def points(self, across: int) -> FloatArray:
        """Sampled positions (y, x), (2, across, n): n steps of a pixel down, some side by side."""
        down = np.array([self.foot[1] - self.top[1], self.foot[0] - self.top[0]]) / self.length
        side = np.array([-down[1], down[0]])
        along = np.arange(math.floor(self.length) + 1)
        aside = np.arange(across) - 0.5 * (across - 1)
        start = np.array([self.top[1], self.top[0]])[:, None, None]
        return np.asarray(
            start + side[:, None, None] * aside[:, None] + down[:, None, None] * along[None, :]
        )


def read_marks(clip: Clip, line: str, length: str, water: float) -> Marks:
    """Marks from the texts of the command line.

    line : "x,y:x,y", from above the rim to below the water
    length : "x,y:x,y = 60 mm"
    water : height of still water at the line, y [pixels]

    Raises CaseError for invalid points, points outside the picture, a line or length too short, or
    water that the line does not cross.
    """
    x0, y0, x1, y1 = _two_points("--line", line, line, clip, LINE_EXAMPLE)
    if y1 - y0 < SHORTEST or abs(x1 - x0) > y1 - y0:
        raise CaseError("does not run downwards", key="--line", given=line, allowed=LINE_EXAMPLE)
    points, _, text = length.partition("=")
    ends = _two_points("--length", length, points, clip, LENGTH_EXAMPLE)
    pixels = math.dist(ends[:2], ends[2:])
    if not text.strip() or pixels < SHORTEST:
        raise CaseError(
            f"is shorter than {SHORTEST:g} pixels" if text.strip() else "gives no length",
            key="--length",
            given=length,
            allowed=LENGTH_EXAMPLE,
        )
    scale = number_of("--length", text.strip(), LENGTH) / pixels
    if not y0 < water < y1:
        raise CaseError(
            "does not cross the line",
            key="--water",
            given=f"{water:g}",
            allowed=f"The line runs from y = {y0:g} to {y1:g}: extend it below the water.",
        )
    whole = math.dist((x0, y0), (x1, y1))
    return Marks(
        top=(x0, y0),
        foot=(x1, y1),
        scale=scale,
        scale_uncertainty=math.sqrt(2.0) * POINTED / pixels,
        water=(water - y0) / (y1 - y0) * whole,
    )


def _two_points(
    option: str, given: str, points: str, clip: Clip, example: str
) -> tuple[float, float, float, float]:
    match = TWO_POINTS.fullmatch(points.strip())
    if match is None:
        raise CaseError("are not two points", key=option, given=given, allowed=example)
    x0, y0, x1, y1 = (float(number) for number in match.groups())
    if max(x0, x1) > clip.width - 1 or max(y0, y1) > clip.height - 1:
        raise CaseError(
            "is outside the picture",
            key=option,
            given=given,
            allowed=f"It is {clip.width} pixels wide and {clip.height} high.",
        )
    return x0, y0, x1, y1


ACROSS = 5  # number of pixels averaged across the line
LARGEST = 20_000_000  # maximum size of the stacked picture [pixels]: half a gigabyte of memory


@dataclass(frozen=True, eq=False)
class Streak:
    """The line's grey over time.

    clip, marks : its source
    grey : (n, m) of n steps down the line in m frames, 0 to 255
    """

    clip: Clip
    marks: Marks
    grey: FloatArray


def read_streak(
    path: Path, line: str, length: str, water: float, patience: Patience | None = None
) -> Streak:
    """Stack a clip's line.

    Raises CaseError as of `opened` and `read_marks`, or if line times frames are too many.
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
