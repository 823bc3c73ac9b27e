"""Film of one run or of several side by side: every frame is drawn once, for all files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing
from pathlib import Path

from sinkbowl.files.result import Result, read_result
from sinkbowl_post.filming.encoders import ENCODERS
from sinkbowl_post.filming.rendering import draw_frames
from sinkbowl_post.filming.script import Script, Wishes, script_of
from sinkbowl_post.output import check_output, written_aside


def film(
    results: Result | str | Path | Sequence[Result | str | Path],
    outputs: str | Path | Sequence[str | Path],
    *,
    colour: str = "speed",
    tracers: bool = False,
    model: str | None = None,
    half_cut: bool = False,
    progress: Callable[[int, int], None] | None = None,
    workers: int | None = 1,
    heading: str | None = None,
) -> None:
    """Write a film, one picture a stored frame (of very many: every second, third ...).

    The files appear when they are whole: an error, or Ctrl-C, leaves none.

    Parameters
    ----------
    results : one run with frames, or its file, or up to four to show side by side at the same
        instant; one in progress or stopped gives the film so far
    outputs : file to write, or several, by suffix .mp4 (1920 x 1080), .gif (640 x 360) or .png
        (the picture in the middle of the film)
    colour : what colours the water, "speed", "pressure", "vorticity" or "none"
    tracers : whether specks drift with the water
    model : reduced model whose levels are drawn too, None for none
    half_cut : whether water and bowl are revolved and seen from above, cut open by half
    progress : called with (frames drawn, frames in all)
    workers : processes that draw; None for as many as cores, fewer for a short film. A script that
        has more than one needs ``if __name__ == "__main__":`` around its work
    heading : of the film; None: its own

    Raises
    ------
    ResultError : no frames, too many runs, an unknown suffix, colour or model, a missing folder
    """
    given = [outputs] if isinstance(outputs, str | Path) else outputs
    paths = [Path(output) for output in given]
    for path in paths:
        check_output(path, tuple(ENCODERS))
    several = [results] if isinstance(results, Result | str | Path) else results
    runs = [read_result(one) for one in several]
    script = script_of(runs, Wishes(colour, tracers, model, half_cut, heading))
    with ExitStack() as stack:
        files = [_aside(stack, path) for path in paths]
        _encode(script, files, progress, workers)


def _aside(stack: ExitStack, path: Path) -> Path:
    return stack.enter_context(written_aside(path.parent)) / path.name


def _encode(
    script: Script,
    files: Sequence[Path],
    progress: Callable[[int, int], None] | None,
    workers: int | None,
) -> None:
    count = len(script.clock)
    with ExitStack() as stack:
        encoders = [ENCODERS[path.suffix.lower()](path, count) for path in files]
        wanted = sorted(set().union(*(encoder.wanted for encoder in encoders)))
        frames = stack.enter_context(closing(draw_frames(script, wanted, workers)))
        for encoder in encoders:
            stack.enter_context(encoder)
        for done, (instant, pixels) in enumerate(frames, start=1):
            for encoder in encoders:
                if instant in encoder.wanted:
                    encoder.add(pixels)
            if progress:
                progress(done, len(wanted))
