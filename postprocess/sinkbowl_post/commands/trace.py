"""``sinkbowl trace``."""

from pathlib import Path
from typing import Annotated

import typer

from sinkbowl.common.errors import CaseError
from sinkbowl_post.commands.options import AsJson, Comma, Heading
from sinkbowl_post.pages.printing import print_out


def trace(
    clip: Annotated[Path, typer.Argument(metavar="CLIP", help="Film of the sinking, .mp4, .mov.")],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Trace to write, .csv.")
    ] = None,
    figure: Annotated[
        Path | None,
        typer.Option(help="Figure of the line over time with the edge on it, .png, .svg or .pdf."),
    ] = None,
    line: Annotated[
        str | None,
        typer.Option(help='Line over the rim, down to below the water: "410,80:410,640".'),
    ] = None,
    length: Annotated[
        str | None, typer.Option(help='A length you know: "410,120:410,360 = 60 mm".')
    ] = None,
    water: Annotated[
        float | None, typer.Option(help="Still water at the line, y in pixels.")
    ] = None,
    rim_height: Annotated[
        str | None, typer.Option(help='The bowl\'s height, base to rim: "60 mm".')
    ] = None,
    rim: Annotated[
        float | None,
        typer.Option(help="Rim before the release, y in pixels; default: topmost edge that moves."),
    ] = None,
    release: Annotated[
        int | None, typer.Option(help="Frame of release, counted from 0; default: found.")
    ] = None,
    rate: Annotated[
        float | None,
        typer.Option(
            "--fps", min=1, max=1e6, help="Frames per second of the camera; default: the clip's."
        ),
    ] = None,
    frame: Annotated[int, typer.Option(min=0, help="Frame of the still, counted from 0.")] = 0,
    heading: Heading = None,
    comma: Comma = False,
    as_json: AsJson = False,
) -> None:
    """Follow the rim through a film of the sinking, to get a trace of the depth.

    Without --line it writes one frame with a pixel scale and says what to give next. The trace is a
    table that compare and fit read with --measured.

    Example: sinkbowl trace clip.mp4

    Example: sinkbowl trace clip.mp4 --line 410,80:410,640 --length "410,120:410,360 = 60 mm"
    --water 600 --rim-height "60 mm" -o trace.csv --figure trace.png
    """
    from sinkbowl.common.units import number_of
    from sinkbowl_post.output import checked_outputs
    from sinkbowl_post.pages.progress import step_bar
    from sinkbowl_post.style import FIGURE_SUFFIXES, save_figure
    from sinkbowl_post.tracing.marks import LENGTH
    from sinkbowl_post.tracing.trace import CAUTION
    from sinkbowl_post.tracing.trace import trace as trace_clip

    checked_outputs(output or (), (".csv",))
    checked_outputs(figure or (), FIGURE_SUFFIXES)
    if line is None and length is None and water is None and rim_height is None:
        from sinkbowl_post.tracing.figure import NEXT, still_figure

        if output is not None:
            raise CaseError("is not given", key="--line", allowed="Call it without -o for a still.")
        picture = figure or Path(f"{clip.stem}-still.png")
        save_figure(still_figure(clip, frame), picture)
        print_out(f"Wrote {picture}.\n\n{NEXT}\n\n{CAUTION}")
        return
    if line is None or length is None or water is None or rim_height is None:
        named = {"--line": line, "--length": length, "--water": water, "--rim-height": rim_height}
        missing = ", ".join(option for option, given in named.items() if given is None)
        raise CaseError(
            f"Not given: {missing}", allowed="Call sinkbowl trace CLIP alone for a still to read."
        )
    height = number_of("--rim-height", rim_height, LENGTH)
    with step_bar("trace") as show:
        found = trace_clip(
            clip,
            line=line,
            length=length,
            water=water,
            rim_height=height,
            rim=rim,
            release=release,
            rate=rate,
            progress=show,
        )
    print_out(found.as_dict() if as_json else repr(found))
    if output is not None:
        found.save(output, comma)
    if figure is not None:
        from sinkbowl_post.tracing.figure import trace_figure

        save_figure(trace_figure(found), figure, heading, comma)
