"""The script of a film: all inputs, checked before the first frame is drawn."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result
from sinkbowl_post.filming.clock import Clock, common_clock
from sinkbowl_post.filming.ghost import ModelCourse, levels_of
from sinkbowl_post.filming.quantity import QUANTITIES
from sinkbowl_post.filming.tracers import drift
from sinkbowl_post.filming.view import TILT, View

MOST_RUNS = 4
"""Maximum number of runs side by side on a screen."""

NAME_ROOM = 1.65  # radii to each side with room for labels of a model's levels

WIDEST = (16, 9)  # aspect of a cutaway as wide as the screen; tracers fill narrower ones too


@dataclass(frozen=True)
class FilmOptions:
    """What a film is to show, see `film`."""

    colour: str = "speed"
    tracers: bool = False
    model: str | None = None
    half_cut: bool = False
    heading: str | None = None

    def check(self) -> None:
        """Refuse unknown options.

        Raises
        ------
        ResultError : an unknown colour or model
        """
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

    Attributes
    ----------
    results : one run, or several side by side
    levels : the reduced model's levels of each run, or None
    specks : (n, 2) positions of the tracers of each run at each instant; may be empty
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

    def specks_at(self, run: int, instant: int) -> NDArray[np.float64] | None:
        """Positions r, z (n, 2) of a run's tracers at an instant; None without tracers."""
        return self.specks[run][instant] if self.specks else None


def script_of(results: Sequence[Result], options: FilmOptions) -> Script:
    """Prepare a film.

    Raises
    ------
    ResultError : no frames, runs given twice or too many, an unknown colour or model, or a case
        that cannot be read
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
