"""The film's clock: its instants, and the stored frame of each run at each instant."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.files.result import Frames

FRAMES_PER_SECOND = 25
MOST_FRAMES = 300  # a film of 12 s; a run with more frames is shown in larger steps


@dataclass(frozen=True, eq=False)
class Clock:
    """Instants of a film of one or several runs.

    Attributes
    ----------
    t : (n,) time since release [s]
    frames : (runs, n) number of the stored frame of each run
    """

    t: NDArray[np.float64]
    frames: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.t)

    @property
    def slowness(self) -> float:
        """Ratio of playing time to real time."""
        if len(self.t) < 2 or self.t[-1] == self.t[0]:
            return 1.0
        return (len(self.t) - 1) / (FRAMES_PER_SECOND * float(self.t[-1] - self.t[0]))


def common_clock(runs: Sequence[Frames]) -> Clock:
    """The clock of a film: a run's own frames, or equal steps common to several runs.

    The step is that of the most finely stored run, with at most MOST_FRAMES frames. Each run shows
    the nearest frame in time; a finished one stays at its last.
    """
    if len(runs) == 1:
        shown = shown_frames(len(runs[0]))
        return Clock(runs[0].t[shown], np.array([shown]))
    begin = min(float(run.t[0]) for run in runs)
    end = max(float(run.t[-1]) for run in runs)
    finest = min((float(np.median(np.diff(run.t))) for run in runs if len(run) > 1), default=1.0)
    t = np.linspace(begin, end, min(MOST_FRAMES, 1 + round((end - begin) / finest)))
    nearest = [np.searchsorted((run.t[1:] + run.t[:-1]) / 2, t) for run in runs]
    return Clock(t, np.array(nearest))


def shown_frames(stored: int) -> list[int]:
    """Frames of a film of one run: equidistant, with the last one, at most MOST_FRAMES."""
    step = -(-stored // MOST_FRAMES)
    return [*range(0, stored - 1, step), stored - 1]
