"""Trace from a clip: stack a line's pixels over time, follow the rim, convert units.

`compare` and `fit` read the table. t is from the release; the draft is the bowl's height minus that
of the rim above the water.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sinkbowl.common import QUANTILE
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import plural, seconds, seconds_with
from sinkbowl.common.sinking import FloatArray
from sinkbowl.common.text_file import csv_text
from sinkbowl_post.output import write_whole
from sinkbowl_post.tracing.clip import Patience
from sinkbowl_post.tracing.draft_history import Course, course_of
from sinkbowl_post.tracing.edge import Edges, locate
from sinkbowl_post.tracing.follow import follow
from sinkbowl_post.tracing.marks import Streak, read_streak
from sinkbowl_post.tracing.release import find_release

CAUTION = (
    "Near a tub film on battery: leave the charger and every mains lead away from the water, "
    "secure the stand and keep the floor dry. Local rules and your supervisor decide."
)
FEW_FRAMES = 15.0  # frames from release to rim below which a higher frame rate is advised


@dataclass(frozen=True, eq=False, repr=False)
class ClipTrace:
    """The trace of one sinking.

    streak : the stacked line
    course : depth against time
    rim_height : of the bowl [m]
    repeated : number of frames equal to the previous one
    """

    streak: Streak
    course: Course
    rim_height: float
    repeated: int

    def __repr__(self) -> str:
        """The text printed by ``sinkbowl trace``."""
        return "\n".join(self.sentences())

    def sentences(self) -> list[str]:
        """The results in sentences."""
        course, marks = self.course, self.streak.marks
        bridged = int(np.count_nonzero(~course.seen))
        lines = [
            f"Scale {marks.scale * 1e3:.4f} mm per pixel, {course.rate:g} frames per second.",
            f"Released at frame {course.released:.2f} "
            f"(± {QUANTILE * course.released_uncertainty:.2f}).",
        ]
        if course.under is not None and course.under_uncertainty is not None:
            half = QUANTILE * course.under_uncertainty
            lines.append(
                f"Rim under after {seconds_with(course.under, half)} (95 %), "
                f"{course.under * course.rate:.0f} frames."
            )
            if course.under * course.rate < FEW_FRAMES:
                lines.append("These are few frames: film at more frames per second.")
        if course.lost is not None:
            lines.append(
                f"The edge could not be followed from {seconds(course.lost)} on, so that the time "
                "until the rim is under is not known."
            )
        if bridged:
            lines.append(
                f"In {bridged} of {len(course.t)} frames the edge was hidden and is interpolated, "
                "with a wider uncertainty."
            )
        if self.repeated:
            lines.append(
                f"{plural(self.repeated, 'frame')} equal to the one before: the camera skipped, or "
                "the clip was made from one with fewer frames per second."
            )
        return [*lines, CAUTION]

    def as_dict(self) -> dict[str, Any]:
        """The results as plain numbers, units in the keys."""
        course = self.course
        return {
            "frames_per_second": course.rate,
            "pixel_m": self.streak.marks.scale,
            "released_frame": course.released,
            "released_frame_standard_uncertainty": course.released_uncertainty,
            "sinking_time_s": course.under,
            "sinking_time_standard_uncertainty_s": course.under_uncertainty,
            "lost_from_s": course.lost,
            "instants": len(course.t),
            "bridged": int(np.count_nonzero(~course.seen)),
            "repeated_frames": self.repeated,
        }

    def save(self, path: Path, comma: bool = False) -> int:
        """Write the table, t [s], draft [mm], draft_uncertainty [mm]; returns the rows."""
        course = self.course
        rows = list(zip(course.t, course.draft, course.draft_uncertainty, strict=True))
        if course.under is not None and course.under > course.t[-1]:
            # compare reads the sinking time at the row with the draft of the rim
            rows.append((course.under, self.rim_height, rows[-1][2]))
        cells = [(f"{t:.6f}", f"{draft * 1e3:.4f}", f"{off * 1e3:.4f}") for t, draft, off in rows]
        head = ("t [s]", "draft [mm]", "draft_uncertainty [mm]")
        write_whole(path, csv_text(head, cells, comma=comma).encode())
        return len(rows)


def trace(
    clip: str | Path,
    *,
    line: str,
    length: str,
    water: float,
    rim_height: float,
    rim: float | None = None,
    release: int | None = None,
    rate: float | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> ClipTrace:
    """Follow the rim of a sinking bowl through a clip.

    Parameters
    ----------
    line : over the rim, from the background to below the water, "x,y:x,y" in pixels
    length : a known one in the picture, "x,y:x,y = 60 mm"
    water : y of still water at the line [pixels]
    rim_height : of the bowl, base to rim [m]
    rim : y of the rim before the release [pixels]; None: the topmost edge that moves
    release : frame of release, counted from 0; None: found
    rate : frames per second of the camera; None: those of the clip
    progress : called with the number of steps done and in total

    Raises CaseError if the clip cannot be read or is too large, for invalid marks, no edge or one
    that cannot be followed, or out of time.
    """
    patience = Patience(Path(clip), progress)
    streak = read_streak(Path(clip), line, length, water, patience)
    marks, frames = streak.marks, streak.grey.shape[1]
    frames_a_second = rate or streak.clip.rate
    if frames_a_second is None:
        raise CaseError("Has no frame rate", file=Path(clip), allowed="Give --fps.")
    if release is not None and not 0 <= release <= frames - 8:
        raise CaseError(
            "is outside the clip", key="--release", given=release, allowed=f"It has {frames}."
        )
    first = 0 if release is None else max(release - 6, 0)
    stretch = marks.length / (marks.foot[1] - marks.top[1])
    at = None if rim is None else (rim - marks.top[1]) * stretch
    path = follow(streak, at, first, patience)
    edges = locate(streak, path.row, path.sign, first, patience)
    named = (float(release), 0.3) if release is not None else None
    found = named or find_release(streak, edges, frames_a_second)

    def look(place: FloatArray) -> Edges:
        row = np.where(np.isfinite(place), np.round(place), path.row).astype(np.intp)
        return locate(streak, row, path.sign, first, patience)

    course = course_of(streak, edges, found, frames_a_second, rim_height, look)
    on_way = streak.grey[:, max(int(found[0]), 0) : course.frame[-1] + 1]
    repeated = int(np.count_nonzero(np.all(np.diff(on_way, axis=1) == 0.0, axis=0)))
    return ClipTrace(streak, course, rim_height, repeated)
