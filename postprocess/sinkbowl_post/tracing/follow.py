"""Position of the rim's edge in each frame, to a pixel, by an optimal path.

The edge is the steepest change of grey down the line. Among all paths that start at the rim at rest
and move by a limited number of pixels per frame, dynamic programming (Bellman 1957, from memory)
finds the one with the strongest edge; a splash may hide it for some frames. Steepness counts up to
half of the rim's at rest, so that brighter objects do not attract the path; edges still there at
the end, or above any possible rim, are excluded.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter
from scipy.signal import find_peaks

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl_post.tracing.clip import Patience
from sinkbowl_post.tracing.marks import Streak

SMOOTHED = 2.0  # standard deviation of the smoothing down the line [pixels]
AT_REST = 5  # frames at either end of the clip assumed at rest
WEAKEST = 1.5  # minimum steepness of an edge [grey levels per pixel]
ABOVE_NOISE = 6.0  # minimum ratio of an edge to the frames' noise
FULL = 0.5  # share of the edge's steepness at rest that counts fully
FASTEST = 0.04
"""Maximum movement per frame, as a share of the way to the water, at least three pixels."""
APART = 10  # distance from which an edge counts as below another [pixels]
LOWER = 0.5  # reduction of its weight
HIGHEST = 0.25  # maximum rise above the position at rest, as a share of the way to the water
BESIDE = 4  # distance from the path of the search for the steepest row [pixels]
TO_MOVE = 0.02  # cost of a pixel of movement, in full edges
TO_RISE = 0.10  # cost of a pixel of upward movement


@dataclass(frozen=True, eq=False)
class Path:
    """The edge, to a pixel.

    row : (m,) steps down the line
    share : (m,) steepness over that at rest
    sign : +1 if grey increases down the line, -1 if it decreases
    """

    row: NDArray[np.intp]
    share: FloatArray
    sign: float


def follow(streak: Streak, rim: float | None, first: int, patience: Patience) -> Path:
    """Follow the rim from a frame in which it is at rest.

    rim : its position [pixels from the line's top]; None: the topmost edge that moves later
    first : the frame

    Raises CaseError if there is no edge, or none that moves.
    """
    lowest = int(streak.marks.water)
    grey = median_filter(streak.grey[: lowest + 12], size=(1, 3), mode="nearest")
    steep = gaussian_filter1d(grey, SMOOTHED, axis=0, order=1, mode="nearest")[:lowest]
    rest = np.median(steep[:, first : first + AT_REST], axis=1)
    end = np.median(steep[:, -AT_REST:], axis=1)
    noise = float(np.median(np.abs(np.diff(steep, axis=1)))) / 0.6745 / np.sqrt(2.0)
    row = _start(streak, rest, end, noise, rim)
    sign, full = float(np.sign(rest[row])), FULL * abs(float(rest[row]))
    gain = np.clip(sign * steep, 0.0, None) - np.clip(sign * end, 0.0, None)[:, None]
    gain[: max(row - round(max(8.0, HIGHEST * (lowest - row))), 0)] = 0.0
    whole = np.clip(gain / full, 0.0, 1.0)
    if rim is None:  # the topmost: marks on the bowl are below the rim
        above = np.maximum.accumulate(whole, axis=0)[:-APART]
        whole[APART:] *= 1.0 - LOWER * above
    rows = np.full(streak.grey.shape[1], row, dtype=np.intp)
    reach = max(3, round(FASTEST * (lowest - row)))
    rows[first:] = _best_path(whole[:, first:], row, reach, patience)
    rows = _steepest(gain, rows)
    share = np.clip(sign * steep[rows, np.arange(len(rows))] / (full / FULL), 0.0, None)
    return Path(rows, share, sign)


def _steepest(gain: FloatArray, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """The steepest row near each of a path; the path stops at the first that counts fully."""
    reach = np.arange(-BESIDE, BESIDE + 1)[:, None]
    near = np.clip(rows + reach, 0, len(gain) - 1)
    best = np.argmax(gain[near, np.arange(len(rows))], axis=0)
    return np.asarray(near[best, np.arange(len(rows))])


def _start(
    streak: Streak, rest: FloatArray, end: FloatArray, noise: float, rim: float | None
) -> int:
    leaves = np.clip(np.abs(rest) - np.clip(np.sign(rest) * end, 0.0, None), 0.0, None)
    if rim is not None:
        near = np.abs(np.arange(len(leaves)) - rim) <= 8.0
        leaves = np.where(near, leaves, 0.0)
    least = max(WEAKEST, ABOVE_NOISE * noise)
    peaks, _ = find_peaks(np.pad(leaves, 1), height=max(least, 0.5 * float(leaves.max())))
    if not peaks.size:
        raise CaseError(
            "No edge on the line moves"
            if float(np.abs(rest).max()) >= least
            else "The line crosses no edge above the water",
            file=streak.clip.path,
            allowed="Place --line over the rim, from the background down to below the water. The "
            "rim must contrast with the background. Give the place of the rim with --rim.",
        )
    return int(peaks[0]) - 1


def _best_path(gain: FloatArray, start: int, reach: int, patience: Patience) -> NDArray[np.intp]:
    """Row in each frame of the best path from ``start``."""
    n, m = gain.shape
    moves = np.arange(-reach, reach + 1)  # movement of the path in rows
    cost = np.where(moves > 0, TO_MOVE, -TO_RISE) * moves
    best = np.full(n, -np.inf)
    best[start] = 0.0
    came = np.zeros((n, m), dtype=np.int16)
    for k in range(1, m):
        patience.step(m, 2 * m)
        padded = np.pad(best, reach, constant_values=-np.inf)
        # row r of the k-th frame was at r - move before
        earlier = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)[:, ::-1] - cost
        choice = np.argmax(earlier, axis=1)
        came[:, k] = moves[choice]
        best = earlier[np.arange(n), choice] + gain[:, k]
    rows = np.empty(m, dtype=np.intp)
    rows[-1] = int(np.argmax(best))
    for k in range(m - 1, 0, -1):
        rows[k - 1] = rows[k] - came[rows[k], k]
    return rows
