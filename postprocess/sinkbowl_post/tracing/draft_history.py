"""Depth against time from positions of the edge: gaps, end and units.

A splash hides the edge for some frames; a smooth curve through the visible positions bridges them,
with an uncertainty that grows by the curve's largest curvature. The time at which the rim goes
under follows from the last positions by a parabola.

The smooth curve is robust against positions that belong to other objects.

The curve z minimises sum w (y - z)^2 + k sum (third difference of z)^2 (Whittaker 1923; k from the
period with half amplitude, Eilers 2003; both from memory); it is smooth in gaps. Outliers get
smaller weights (Cauchy), in several iterations; the first ones are stiffer, so that several
neighbouring outliers do not attract the curve.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.ndimage import label
from scipy.sparse.linalg import spsolve

from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import plural
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.edge import UNDER, Edges
from sinkbowl_post.tracing.marks import POINTED, Streak

SHORTEST = 0.1  # shortest period [s] that the curve follows: that of a bowl with a draft of 2.5 mm
FEWEST_PLACES = 8.0  # minimum number of frames per period
ROUNDS = 12
STIFFER = 2.0  # factor of the period in the first half of the iterations
LEAST_USUAL = 0.03  # deviation without loss of weight [pixels]
ODD = 1.0  # deviation of an outlier [pixels], if also five times the usual one
TURNING = 0.15  # additional pixels per pixel per frame


def smooth_course(place: FloatArray, rate: float) -> tuple[FloatArray, NDArray[np.bool_], float]:
    """Curve, whether each position is on it, and the usual deviation [pixels].

    place : (n,) in consecutive frames, nan if missing; at least four
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
    """Outliers that continue neighbouring positions: a sharp turn of the edge itself."""
    jump = np.zeros(len(place))
    jump[1:-1] = np.abs(np.diff(place, 2))
    jump = np.where(np.isfinite(jump), jump, np.inf)
    broken = jump > most
    run = np.cumsum(np.diff(odd, prepend=False))  # odd numbers are runs of outliers
    run = np.where(odd, run, 0)
    bad = np.zeros(run.max() + 1, dtype=bool)
    for beside in (-1, 0, 1):  # positions at either end of a run
        bad[np.roll(run, beside)[broken]] = True
    return np.asarray(odd & ~bad[run])


def _whittaker(y: FloatArray, weight: FloatArray, period: float) -> FloatArray:
    n = len(y)
    stiff = (2.0 * np.sin(np.pi / period)) ** -6
    ends = [np.full(n - 3, c) for c in (-1.0, 3.0, -3.0, 1.0)]
    third = sparse.diags_array(ends, offsets=[0, 1, 2, 3], shape=(n - 3, n))
    law = sparse.diags_array(weight) + stiff * (third.T @ third)
    return np.asarray(spsolve(law.tocsc(), weight * y))


BEFORE = 6  # frames before the release at the start of the trace
LONGEST_GAP = 0.2  # longest gap, as a share of the duration, but at least three frames
LAST = 14  # maximum number of positions used for the time at the water
NEAR_END = 0.25  # maximum share of the way beyond the last position
FEWEST = 8  # minimum number of positions
SHIFTED = 2  # maximum number of frames with a shifted edge that do not count as hidden
ARRIVED = 1.5  # distance from the final position within which the edge is at the water [pixels]
STAYS = 6  # number of frames for which it stays there
SHARPEST = 95.0  # percentile of the curvature taken as its largest value


@dataclass(frozen=True, eq=False)
class Course:
    """Depth of the rim, frame by frame, from shortly before the release.

    frame : (n,) numbers of the frames
    t : (n,) since release [s]
    place : (n,) [pixels from the line's top]
    draft, draft_uncertainty : (n,) [m], standard
    seen : (n,) whether the edge is visible; if it is shifted for a frame or two by compression, the
        curve is used
    released, released_uncertainty : fractional frame of release [frames]
    under, under_uncertainty : since release until the rim is at the water [s]; None if not reached
    lost : time from which it could not be followed [s], or None
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

    released : frame of release and its standard uncertainty
    rate : frames a second that the camera took
    rim_height : the bowl's height, so its draft when the rim is at the water [m]
    look : finds edges near given positions, (m,) [pixels], if the path went astray

    Raises CaseError if the edge is found in too few frames.
    """
    marks, start = streak.marks, released[0]
    first = max(int(np.ceil(start)), 0)
    place = edges.place.copy()
    place[_arrival(place, first, marks.water) :] = np.nan
    after = first + np.flatnonzero(np.isfinite(place[first:]))
    if after.size < FEWEST:
        raise CaseError(
            f"The edge is found in {plural(after.size, 'frame')} after the release, {FEWEST} are "
            "needed",
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
    # compression shifts the picture for a frame or two: the edge is not hidden
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
    """Frame from which the edge stays at the water; the number of frames if it does not."""
    late = place[-STAYS:][np.isfinite(place[-STAYS:])]
    level = float(np.median(late)) if late.size else water
    level = level if level > water - UNDER else water
    above = place < level - ARRIVED
    for k in first + np.flatnonzero(np.isfinite(place[first:]) & ~above[first:]):
        if not above[k : k + STAYS].any():
            return int(k)
    return len(place)


def _short(odd: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Members of runs of at most SHIFTED frames."""
    run, runs = label(odd)
    return np.asarray(odd & (np.bincount(run.ravel(), minlength=runs + 1)[run] <= SHIFTED))


def _followed(after: NDArray[np.intp]) -> tuple[int, bool]:
    """Last frame before a gap that is too long, and whether there is none."""
    longest = max(3.0, LONGEST_GAP * float(after[-1] - after[0]))
    broken = np.flatnonzero(np.diff(after) - 1 > longest)
    return (int(after[-1]), True) if not broken.size else (int(after[broken[0]]), False)


def _bridged(
    off: FloatArray, known: NDArray[np.intp], frame: NDArray[np.intp], turn: float
) -> FloatArray:
    """Standard uncertainty of the position in each frame [pixels]."""
    deviation = np.interp(frame, known, off[known])
    after = np.clip(np.searchsorted(known, frame), 1, len(known) - 1)
    sag = 0.5 * turn * (frame - known[after - 1]) * (known[after] - frame)
    return np.asarray(np.hypot(deviation, sag))


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
