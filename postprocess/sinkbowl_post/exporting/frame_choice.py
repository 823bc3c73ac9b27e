"""Choice of frames of a run: all, one by number, or those nearest to given times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sinkbowl.common.errors import InputRefused, ResultError
from sinkbowl.common.units import Kind, read_quantity
from sinkbowl.files.result import Result
from sinkbowl_post.style import seconds

TIME = Kind("a time", "s", "0 s", "1000 hour", "0.5 s")


@dataclass(frozen=True)
class FrameChoice:
    """Frames in order of time, and a description if times were given."""

    frames: tuple[int, ...]
    told: str = ""


def all_frames(result: Result) -> FrameChoice:
    """Every frame.

    Raises
    ------
    ResultError : there is none
    """
    count = len(result.frames)
    if count == 0 or not result.grid:
        raise ResultError(f"{result.path}: has no frames to export (status: {result.status}).")
    return FrameChoice(tuple(range(count)))


def frame_numbered(result: Result, frame: int) -> FrameChoice:
    """One frame by its number, counted from 0, negative from the end.

    Raises
    ------
    ResultError : there is no such frame
    """
    count = len(all_frames(result).frames)
    if not -count <= frame < count:
        raise ResultError(f"--frame {frame}: {result.path} has frames 0 to {count - 1}.")
    return FrameChoice((frame % count,))


def frames_at(result: Result, times: Sequence[str]) -> FrameChoice:
    """Frames by their times.

    Parameters
    ----------
    times : each "0.5 s", the nearest frame, or "0.2 s:0.6 s", all frames between

    Raises
    ------
    ResultError : not a time, or no frame near it
    """
    all_frames(result)
    picked = [_of_one(result, given) for given in times]
    frames = sorted({frame for found, _ in picked for frame in found})
    return FrameChoice(tuple(frames), "; ".join(told for _, told in picked))


def _of_one(result: Result, given: str) -> tuple[list[int], str]:
    first, colon, last = given.partition(":")
    t = result.frames.t
    if not colon:
        nearest = int(np.argmin(np.abs(t - _within(result, given, first))))
        return [nearest], f"{given.strip()}: frame {nearest}, at {seconds(float(t[nearest]))}"
    low, high = _time(given, first), _time(given, last)
    found = np.flatnonzero((t >= low) & (t <= high)).tolist()
    if not found:
        raise ResultError(f'--time "{given}": there is no frame. {_span(result)}')
    return found, f"{given.strip()}: frames {found[0]} to {found[-1]}"


def _within(result: Result, given: str, text: str) -> float:
    """A time within the spacing of the run's frames."""
    t, wanted = result.frames.t, _time(given, text)
    slack = float(np.max(np.diff(t))) if len(t) > 1 else 0.0
    if not t[0] - slack <= wanted <= t[-1] + slack:
        raise ResultError(f'--time "{given}": the run has no frame near that time. {_span(result)}')
    return wanted


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
