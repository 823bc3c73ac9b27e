"""Choice of frames of a run: all, one by number, or those nearest to given times."""

from collections.abc import Sequence

import numpy as np

from sinkbowl.common.errors import InputRefused, ResultError
from sinkbowl.common.shown import seconds
from sinkbowl.common.units import Kind, read_quantity
from sinkbowl.files.result import Result

TIME = Kind("a time", "s", "0 s", "1000 hour", "0.5 s")


def chosen_frames(result: Result, frame: int | None, times: Sequence[str]) -> tuple[list[int], str]:
    """Frames in order of time, and a description if times were given.

    Parameters
    ----------
    frame : number of the only one, counted from 0, negative from the end
    times : each "0.5 s", the nearest frame, or "0.2 s:0.6 s", all frames between; without frame and
        times: all frames

    Raises
    ------
    ResultError : frame and times are both given, or the run has no such frame
    """
    if times and frame is not None:
        raise ResultError("--frame and --time both pick frames. Give one of the two.")
    count = len(result.frames)
    if count == 0 or not result.grid:
        raise ResultError(f"{result.path}: has no frames to export (status: {result.status}).")
    if times:
        picked = [_of_one(result, given) for given in times]
        frames = sorted({number for found, _ in picked for number in found})
        return frames, "; ".join(words for _, words in picked)
    if frame is None:
        return list(range(count)), ""
    if not -count <= frame < count:
        raise ResultError(f"--frame {frame}: {result.path} has frames 0 to {count - 1}.")
    return [frame % count], ""


def _of_one(result: Result, given: str) -> tuple[list[int], str]:
    first, colon, last = given.partition(":")
    t, low = result.frames.t, _time(given, first)
    if not colon:
        slack = float(np.max(np.diff(t))) if len(t) > 1 else 0.0
        if not t[0] - slack <= low <= t[-1] + slack:
            words = f'--time "{given}": the run has no frame near that time. {_span(result)}'
            raise ResultError(words)
        nearest = int(np.argmin(np.abs(t - low)))
        return [nearest], f"{given.strip()}: frame {nearest}, at {seconds(float(t[nearest]))}"
    found = np.flatnonzero((t >= low) & (t <= _time(given, last))).tolist()
    if not found:
        raise ResultError(f'--time "{given}": there is no frame. {_span(result)}')
    return found, f"{given.strip()}: frames {found[0]} to {found[-1]}"


def _time(given: str, text: str) -> float:
    try:
        return read_quantity(text, TIME)
    except InputRefused as error:
        raise ResultError(
            f'--time "{given}" {error}. Write "0.5 s", or "0.2 s:0.6 s" for all between.'
        ) from None


def _span(result: Result) -> str:
    t = result.frames.t
    first, last = float(t[0]), float(t[-1])
    return f"{result.path} has {len(t)} frames from {seconds(first, last)} to {seconds(last)}."
