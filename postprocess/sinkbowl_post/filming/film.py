"""Film of one or several runs: each frame is drawn once for all files."""

from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing
from pathlib import Path

from sinkbowl.files.result import Result, read_result
from sinkbowl_post.filming.encoders import ENCODERS
from sinkbowl_post.filming.rendering import draw_frames
from sinkbowl_post.filming.script import FilmOptions, script_of
from sinkbowl_post.output import checked_outputs, written_aside


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
    """Write a film, one picture per stored frame (of very many: every second, third ...).

    The files appear when complete: an error, or Ctrl-C, leaves none.

    Parameters
    ----------
    results : a run with frames, or its file, or up to four side by side; a run in progress or
        stopped gives the film so far
    outputs : file to write, or several, by suffix .mp4 (1920 x 1080), .gif (640 x 360) or .png
        (the picture in the middle of the film)
    colour : quantity that colours the water, "speed", "pressure", "vorticity" or "none"
    tracers : whether to show tracers
    model : reduced model whose levels are drawn, or None
    half_cut : whether to show half of water and bowl in three dimensions, from above
    progress : called with (frames drawn, frames in all)
    workers : number of processes; None: one per core, fewer for a short film. A script with several
        needs ``if __name__ == "__main__":`` around its work
    heading : of the film; None: default

    Raises
    ------
    ResultError : no frames, too many runs, an unknown suffix, colour or model, a missing folder
    """
    paths = checked_outputs(outputs, tuple(ENCODERS))
    several = [results] if isinstance(results, Result | str | Path) else results
    runs = [read_result(one) for one in several]
    script = script_of(runs, FilmOptions(colour, tracers, model, half_cut, heading))
    count = len(script.clock)
    encoders = [ENCODERS[path.suffix.lower()] for path in paths]
    takes = [encoder.wanted(count) for encoder in encoders]
    wanted = sorted(set().union(*takes))
    with ExitStack() as stack:
        files = [stack.enter_context(written_aside(path.parent)) / path.name for path in paths]
        frames = stack.enter_context(closing(draw_frames(script, wanted, workers)))
        opened = [
            encoder.opened(file, count) for encoder, file in zip(encoders, files, strict=True)
        ]
        adds = [stack.enter_context(file) for file in opened]
        for done, (instant, pixels) in enumerate(frames, start=1):
            for add, taken in zip(adds, takes, strict=True):
                if instant in taken:
                    add(pixels)
            if progress:
                progress(done, len(wanted))
