"""The script of a film: its clock and all inputs, checked before the first frame is drawn."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Frames, Result
from sinkbowl_post.filming.ghost import ModelCourse, levels_of
from sinkbowl_post.filming.tracers import drift
from sinkbowl_post.filming.view import QUANTITIES, TILT, View

MOST_RUNS = 4  # maximum number of runs side by side on a screen
NAME_ROOM = 1.65  # radii to each side with room for labels of a model's levels

WIDEST = (16, 9)  # aspect of a cutaway as wide as the screen; tracers fill narrower ones too

FRAMES_PER_SECOND = 25
MOST_FRAMES = 300  # a film of 12 s; a run with more frames is shown in larger steps


@dataclass(frozen=True, eq=False)
class Clock:
    """Instants of a film of one or several runs.

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


@dataclass(frozen=True)
class FilmOptions:
    """What a film is to show, see `film`."""

    colour: str = "speed"
    tracers: bool = False
    model: str | None = None
    half_cut: bool = False
    heading: str | None = None

    def check(self) -> None:
        """Refuse an unknown colour or model with a ResultError."""
        from sinkbowl.reduced import MODELS  # heavy, and not needed by processes that only draw

        if self.colour not in QUANTITIES:
            raise ResultError(f"colour {self.colour!r} is none of {', '.join(QUANTITIES)}.")
        if self.model is not None and self.model not in MODELS:
            raise ResultError(f"model {self.model!r} is none of {', '.join(MODELS)}.")

    def view(self, runs: int) -> View:
        """View of a number of bowls, with margins."""
        named = self.model is not None and runs == 1
        return View(float(TILT) if self.half_cut else 0.0, NAME_ROOM if named else View.side)


@dataclass(frozen=True, eq=False)
class Script:
    """A film before it is drawn; can be sent to other processes.

    results : one run, or several side by side
    levels : the reduced model's levels of each run, or None
    specks : positions r, z (n, 2) of the tracers of each run at each instant; may be empty
    """

    results: tuple[Result, ...]
    clock: Clock
    options: FilmOptions
    levels: tuple[ModelCourse | None, ...]
    specks: tuple[tuple[NDArray[np.float64], ...], ...]

    @property
    def view(self) -> View:
        """The view of the bowls."""
        return self.options.view(len(self.results))


def script_of(results: Sequence[Result], options: FilmOptions) -> Script:
    """Prepare a film.

    Raises ResultError for no frames, runs given twice or too many, an unknown colour or model, or a
    case that cannot be read.
    """
    options.check()
    _check_runs(results)
    clock = common_clock([result.frames for result in results])
    levels = [levels_of(result, options.model) if options.model else None for result in results]
    specks: list[tuple[NDArray[np.float64], ...]] = []
    if options.tracers:
        reach = options.view(len(results)).window(results, *WIDEST).reach
        for result, frames in zip(results, clock.frames, strict=True):
            specks.append(tuple(drift(result, [int(k) for k in frames], reach)))
    return Script(tuple(results), clock, options, tuple(levels), tuple(specks))


def _check_runs(results: Sequence[Result]) -> None:
    if len(results) > MOST_RUNS:
        raise ResultError(
            f"{len(results)} runs are too many for one film: the limit is {MOST_RUNS} side by side."
        )
    places = [result.path.resolve() for result in results]
    for result, place in zip(results, places, strict=True):
        if places.count(place) > 1:
            raise ResultError(f"{result.path}: is given twice.")
        if len(result.frames) == 0:
            raise ResultError(f"{result.path}: has no frames to film (status: {result.status}).")
        if len(result.history["t"]) == 0:
            raise ResultError(f"{result.path}: has no history to show beside the film.")
