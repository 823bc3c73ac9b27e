"""From places of the edge to depth against time: gaps bridged, the end found, units put on.

A splash hides the edge for some frames; there the smooth course through what is seen on both sides
bridges them, and its uncertainty grows by what the way's sharpest turns can bend it meanwhile. The
moment at which the rim goes under follows from the last places by a parabola.

A smooth course through places of which some belong to other things.

The course z makes sum w (y - z)^2 + k sum (third difference of z)^2 least (Whittaker 1923; k from
the period that is halved, Eilers 2003; both from memory); between places it goes on smoothly. What
lies off weighs less, by Cauchy's weights, in rounds; the first of them are stiffer, so that several
odd places side by side do not draw the course to themselves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.ndimage import label
from scipy.sparse.linalg import spsolve

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.edge import UNDER, Edges
from sinkbowl_post.tracing.marks import POINTED, Streak

SHORTEST = 0.1
"""Period [s] of a bob that the course just follows: that of a bowl that floats 2.5 mm deep."""
FEWEST_PLACES = 8.0
"""Frames that this period has at least."""
ROUNDS = 12
STIFFER = 2.0
"""Times the period in the first half of the rounds."""
LEAST_USUAL = 0.03
"""Pixels that a place may always lie off without losing weight."""
ODD = 1.0
"""Pixels off the course from which a place is another thing's, and five times the usual."""
TURNING = 0.15
"""Pixels more for each pixel a frame."""


def smooth_course(place: FloatArray, rate: float) -> tuple[FloatArray, NDArray[np.bool_], float]:
    """Course, whether each place lies on it, and how far places usually lie off [pixels].

    Parameters
    ----------
    place : (n,) in frames one after another, nan where there is none; four at least
    rate : frames a second
    """
    there = np.isfinite(place)
    y, weight = np.where(there, place, 0.0), there.astype(float)
    off, usual = np.zeros(len(y)), LEAST_USUAL
    course = y
    period = max(SHORTEST * rate, FEWEST_PLACES)
    for i in range(ROUNDS):
        course = _whittaker(y, weight, period * (STIFFER if 2 * i < ROUNDS else 1.0))
        off = np.abs(y - course)
        usual = max(1.4826 * float(np.median(off[there])), LEAST_USUAL)
        weight = there / (1.0 + (off / usual) ** 2)
    most = max(ODD, 5.0 * usual) + TURNING * np.abs(np.gradient(course))
    return course, there & ((off <= most) | _unbroken(place, off > most, most)), usual


def _unbroken(place: FloatArray, odd: NDArray[np.bool_], most: FloatArray) -> NDArray[np.bool_]:
    """Which odd places join on to those before and behind: a sharp turn of the edge itself."""
    jump = np.zeros(len(place))
    jump[1:-1] = np.abs(np.diff(place, 2))
    jump = np.where(np.isfinite(jump), jump, np.inf)
    broken = jump > most
    run = np.cumsum(np.diff(odd, prepend=False))  # its odd numbers are the runs of odd places
    run = np.where(odd, run, 0)
    bad = np.zeros(run.max() + 1, dtype=bool)
    for beside in (-1, 0, 1):  # the places at either end of a run join it on
        bad[np.roll(run, beside)[broken]] = True
    return np.asarray(odd & ~bad[run])


def _whittaker(y: FloatArray, weight: FloatArray, period: float) -> FloatArray:
    n = len(y)
    stiff = (2.0 * np.sin(np.pi / period)) ** -6
    ends = [np.full(n - 3, c) for c in (-1.0, 3.0, -3.0, 1.0)]
    third = sparse.diags_array(ends, offsets=[0, 1, 2, 3], shape=(n - 3, n))
    law = sparse.diags_array(weight) + stiff * (third.T @ third)
    return np.asarray(spsolve(law.tocsc(), weight * y))


BEFORE = 6
"""Frames before the release from which the course is told."""
LONGEST_GAP = 0.2
"""Share of the way's duration that may be bridged, and three frames at least."""
LAST = 14
"""Places, most, from which the moment at the water is found."""
NEAR_END = 0.25
"""Share of the way that may lie beyond the last place."""
FEWEST = 8
"""Places without which there is no trace."""
SHIFTED = 2
"""Frames, most, in which an edge may be seen beside its course and is not called hidden."""
ARRIVED = 1.5
"""Pixels from where the edge comes to rest within which it is at the water."""
STAYS = 6
"""Frames for which it then stays there."""
SHARPEST = 95.0
"""Percentile of the course's turns that stands for a sharp one."""


@dataclass(frozen=True, eq=False)
class Course:
    """The rim's way, frame by frame, from a little before the release.

    Attributes
    ----------
    frame : (n,) numbers of the frames
    t : (n,) since release [s]
    place : (n,) [pixels from the line's top]
    draft, draft_uncertainty : (n,) [m], standard
    seen : (n,) whether the edge is in the picture there, not hidden; where it stands beside its
        course for a frame or two, as compression has it, its course is the place
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
    streak: Streak,
    edges: Edges,
    released: tuple[float, float],
    rate: float,
    rim_height: float,
    look: Callable[[FloatArray], Edges],
) -> Course:
    """Depth against time.

    Parameters
    ----------
    released : frame of release and its standard uncertainty
    rate : frames a second that the camera took
    rim_height : the bowl's height, so its draft when the rim is at the water [m]
    look : finds edges near given places, (m,) [pixels]: where the path went astray

    Raises
    ------
    CaseError : the edge is found in too few frames
    """
    marks, start = streak.marks, released[0]
    first = max(int(np.ceil(start)), 0)
    place = edges.place.copy()
    place[_arrival(place, first, marks.water) :] = np.nan
    after = first + np.flatnonzero(np.isfinite(place[first:]))
    if after.size < FEWEST:
        raise CaseError(
            f"The edge is found in {after.size} frames after the release, {FEWEST} are needed",
            file=streak.clip.path,
            allowed="Film at more frames per second, or place --line where the rim is less hidden.",
        )
    way = np.arange(after[0], after[-1] + 1)
    course, good, usual = smooth_course(place[way], rate)
    off = edges.uncertainty.copy()
    if not good.all():
        again = look(np.concatenate([place[: way[0]], course, place[way[-1] + 1 :]]))
        place[way] = np.where(good, place[way], again.place[way])
        off[way] = np.where(good, off[way], again.uncertainty[way])
        course, good, usual = smooth_course(place[way], rate)
    seen = np.isfinite(place)
    # compression shifts the picture for a frame or two: nothing hides the edge there
    beside = np.where(seen[way], np.abs(place[way] - course), 0.0)
    seen[way] = good | (seen[way] & _short(~good))
    off[way] = np.where(good, off[way], np.hypot(off[way], beside))
    last, whole = _followed(np.flatnonzero(seen & (np.arange(len(seen)) >= first)))
    begin = max(first - BEFORE, 0)
    begin += int(np.flatnonzero(seen[begin:])[0])
    frame = np.arange(begin, last + 1)
    place[way] = np.where(good, place[way], course)
    known = frame[seen[frame]]
    turn = float(np.percentile(np.abs(np.diff(course, 2)), SHARPEST))
    off = _bridged(np.hypot(off, usual), known, frame, turn)
    end = _under(known, place, off[known - begin], marks.water) if whole else None
    above = marks.water - np.interp(frame, known, place[known])
    above[frame >= way[0]] = marks.water - place[frame[frame >= way[0]]]
    common = np.hypot(POINTED, marks.scale_uncertainty * above)
    under = None if end is None else (end[0] - start) / rate
    under_off = None if end is None else float(np.hypot(end[1], released[1])) / rate
    return Course(
        frame=frame,
        t=np.asarray((frame - start) / rate, dtype=np.float64),
        place=marks.water - above,
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


def _arrival(place: FloatArray, first: int, water: float) -> int:
    """Frame from which the edge stays where it ends at the water; their number if it does not."""
    late = place[-STAYS:][np.isfinite(place[-STAYS:])]
    level = float(np.median(late)) if late.size else water
    level = level if level > water - UNDER else water
    above = place < level - ARRIVED
    for k in first + np.flatnonzero(np.isfinite(place[first:]) & ~above[first:]):
        if not above[k : k + STAYS].any():
            return int(k)
    return len(place)


def _short(odd: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which of them belong to runs of at most SHIFTED frames."""
    run, runs = label(odd)
    return np.asarray(odd & (np.bincount(run.ravel(), minlength=runs + 1)[run] <= SHIFTED))


def _followed(after: NDArray[np.intp]) -> tuple[int, bool]:
    """Last frame before a gap too long to bridge, and whether there is none."""
    longest = max(3.0, LONGEST_GAP * float(after[-1] - after[0]))
    broken = np.flatnonzero(np.diff(after) - 1 > longest)
    return (int(after[-1]), True) if not broken.size else (int(after[broken[0]]), False)


def _bridged(
    off: FloatArray, known: NDArray[np.intp], frame: NDArray[np.intp], turn: float
) -> FloatArray:
    """Standard uncertainty of the place in each frame [pixels]."""
    told = np.interp(frame, known, off[known])
    after = np.clip(np.searchsorted(known, frame), 1, len(known) - 1)
    sag = 0.5 * turn * (frame - known[after - 1]) * (known[after] - frame)
    return np.asarray(np.hypot(told, sag))


def _under(
    known: NDArray[np.intp], place: FloatArray, off: FloatArray, water: float
) -> tuple[float, float] | None:
    """Frame at which the rim is at the water and its standard uncertainty; None: not reached."""
    way = water - float(place[known[0]])
    left = water - float(place[known[-1]])
    if left > max(NEAR_END * way, UNDER):
        return None
    late = np.flatnonzero(place[known] > water - 0.5 * way)[-LAST:]
    if len(late) < 4:
        return None
    k, off = known[late], off[late]
    since = k - float(k[-1])
    law, spread = np.polyfit(since, place[k], 2, w=1.0 / off, cov="unscaled")
    roots = np.roots(law - np.array([0.0, 0.0, water]))
    ahead = sorted(float(root.real) for root in roots if abs(root.imag) < 1e-9 and root.real > -1.0)
    straight = left / max(float(np.polyval(np.polyder(law), 0.0)), 1e-6)
    if not ahead or ahead[0] > 2.0 * straight + 1.0:
        return None
    at = ahead[0]
    speed = float(np.polyval(np.polyder(law), at))
    powers = np.array([at**2, at, 1.0])
    return float(k[-1]) + at, float(np.sqrt(powers @ spread @ powers + POINTED**2)) / max(
        speed, 1e-6
    )
