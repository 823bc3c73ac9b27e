"""From places of the edge to depth against time: gaps bridged, the end found, units put on.

A splash hides the edge for some frames; between what is seen on both sides the course is a cubic,
and its uncertainty grows by what the bowl's typical acceleration, 2 x way / time^2, can bend the
path meanwhile. Just above the water rim and water run into each other in the picture; the moment
at which the rim goes under follows from the last places by a parabola.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.edge import CLEAR, Edges
from sinkbowl_post.tracing.marks import POINTED
from sinkbowl_post.tracing.streak import Streak

BESIDE = 6
"""Places on either side of a gap that it is bridged from."""
LONGEST_GAP = 0.2
"""Share of the way's duration that may be bridged, and three frames at least."""
LAST = 10
"""Places, most, from which the moment at the water is found."""
NEAR_END = 0.25
"""Share of the way that may lie beyond the last place."""
FEWEST = 8
"""Places without which there is no trace."""
NEIGHBOURS = 0.3
"""Share of the way's frames, on either side, that a place is held against; eight at least."""
MOST_NEIGHBOURS = 60
ROUNDS = 12
LEAST_USUAL = 0.1
"""Pixels that a place may always lie off without losing weight."""
ODD = 1.0
"""Pixels off the cubic of its neighbours from which a place is another thing's."""
TURNING = 0.15
"""Pixels more for each pixel a frame: a fast rim's course is no cubic for long."""


@dataclass(frozen=True, eq=False)
class Course:
    """The rim's way, frame by frame, from a little before the release.

    Attributes
    ----------
    frame : (n,) numbers of the frames
    t : (n,) since release [s]
    place : (n,) [pixels from the line's top]
    draft, draft_uncertainty : (n,) [m], standard
    seen : (n,) whether the edge was found there, not bridged
    released, released_uncertainty : frame of release, a fraction [frames]
    under, under_uncertainty : since release until the rim is at the water [s]; None if not reached
    lost : moment from which it could not be followed [s]; None where it was to the end
    rate : frames a second that the camera took
    """

    frame: NDArray[np.intp]
    t: FloatArray
    place: FloatArray
    draft: FloatArray
    draft_uncertainty: FloatArray
    seen: NDArray[np.bool_]
    released: float
    released_uncertainty: float
    under: float | None
    under_uncertainty: float | None
    lost: float | None
    rate: float


def course_of(
    streak: Streak, edges: Edges, released: tuple[float, float], rate: float, rim_height: float
) -> Course:
    """Depth against time.

    Parameters
    ----------
    released : frame of release and its standard uncertainty
    rate : frames a second that the camera took
    rim_height : the bowl's height, so its draft when the rim is at the water [m]

    Raises
    ------
    CaseError : the edge is found in too few frames
    """
    marks, start = streak.marks, released[0]
    seen = _without_odd(edges, start)
    after = np.flatnonzero(seen & (np.arange(len(seen)) >= start))
    if after.size < FEWEST:
        raise CaseError(
            f"The edge is found in {after.size} frames after the release, {FEWEST} are needed",
            file=streak.clip.path,
            allowed="Film at more frames a second, or lead --line where less hides the rim.",
        )
    last, whole = _followed(after)
    begin = max(int(np.ceil(start)) - BESIDE, 0)
    begin += int(np.flatnonzero(seen[begin:])[0])
    frame = np.arange(begin, last + 1)
    way, span = float(np.ptp(edges.place[seen])), last - start
    bent = 2.0 * way / span**2  # pixels a frame, squared
    place, off = _bridged(edges, seen, frame, bent)
    end = _under(frame[seen[frame]], edges, marks.water) if whole else None
    above = marks.water - place
    common = np.hypot(POINTED, marks.scale_uncertainty * above)
    under = None if end is None else (end[0] - start) / rate
    under_off = None if end is None else float(np.hypot(end[1], released[1])) / rate
    return Course(
        frame=frame,
        t=np.asarray((frame - start) / rate, dtype=np.float64),
        place=place,
        draft=rim_height - above * marks.scale,
        draft_uncertainty=np.hypot(off, common) * marks.scale,
        seen=seen[frame],
        released=start,
        released_uncertainty=released[1],
        under=under,
        under_uncertainty=under_off,
        lost=None if end is not None else (last + 1 - start) / rate,
        rate=rate,
    )


def _without_odd(edges: Edges, start: float) -> NDArray[np.bool_]:
    """Frames whose place lies on a cubic through most of its neighbours.

    Each is refitted with Cauchy weights, so that what lies off does not draw it to itself (robust
    local regression after Cleveland 1979, from memory).
    """
    seen = np.isfinite(edges.place)
    where = np.flatnonzero(seen & (np.arange(len(seen)) >= start))
    reach = max(8, round(NEIGHBOURS * len(where)))
    for k in where:
        near = where[np.abs(where - k) <= reach]
        near = near[:: max(1, len(near) // MOST_NEIGHBOURS)]
        if len(near) < 5:
            continue
        y, weight = edges.place[near], np.ones(len(near))
        for _ in range(ROUNDS):
            law = np.polyfit(near - k, y, min(3, len(near) - 2), w=np.sqrt(weight))
            off = y - np.polyval(law, near - k)
            usual = max(float(np.median(np.abs(off))), LEAST_USUAL)
            weight = 1.0 / (1.0 + (off / usual) ** 2)
        if abs(edges.place[k] - law[-1]) > ODD + TURNING * abs(law[-2]):
            seen[k] = False
    return seen


def _followed(after: NDArray[np.intp]) -> tuple[int, bool]:
    """Last frame before a gap too long to bridge, and whether there is none."""
    longest = max(3.0, LONGEST_GAP * float(after[-1] - after[0]))
    broken = np.flatnonzero(np.diff(after) - 1 > longest)
    return (int(after[-1]), True) if not broken.size else (int(after[broken[0]]), False)


def _bridged(
    edges: Edges, seen: NDArray[np.bool_], frame: NDArray[np.intp], bent: float
) -> tuple[FloatArray, FloatArray]:
    """Place and its standard uncertainty in each frame [pixels]."""
    place, off = edges.place[frame].copy(), edges.uncertainty[frame].copy()
    found = frame[seen[frame]]
    for i in np.flatnonzero(~seen[frame]):
        k = frame[i]
        left, right = found[found < k][-BESIDE:], found[found > k][:BESIDE]
        beside = np.concatenate([left, right])
        degree = min(3, len(beside) - 1)
        place[i] = np.polyval(np.polyfit(beside - k, edges.place[beside], degree), 0.0)
        sag = 0.5 * bent * float((k - left[-1]) * (right[0] - k))
        off[i] = np.hypot(float(np.max(edges.uncertainty[beside])), sag)
    return place, off


def _under(found: NDArray[np.intp], edges: Edges, water: float) -> tuple[float, float] | None:
    """Frame at which the rim is at the water and its standard uncertainty; None: not reached."""
    way = water - float(edges.place[found[0]])
    left = water - float(edges.place[found[-1]])
    if left > max(NEAR_END * way, 2.0 * CLEAR):
        return None
    k = found[-LAST:]
    k, y = k[edges.place[k] > water - 0.5 * way], edges.place
    if len(k) < 4:
        return None
    since = k - float(k[-1])
    law, spread = np.polyfit(since, y[k], 2, w=1.0 / edges.uncertainty[k], cov="unscaled")
    roots = np.roots(law - np.array([0.0, 0.0, water]))
    ahead = sorted(float(root.real) for root in roots if abs(root.imag) < 1e-9 and root.real > -1.0)
    straight = left / max(float(np.polyval(np.polyder(law), 0.0)), 1e-6)
    if not ahead or ahead[0] > 2.0 * straight + 1.0:
        return None
    at = ahead[0]
    speed = float(np.polyval(np.polyder(law), at))
    powers = np.array([at**2, at, 1.0])
    off = float(np.sqrt(powers @ spread @ powers + POINTED**2)) / max(speed, 1e-6)
    return float(k[-1]) + at, off
