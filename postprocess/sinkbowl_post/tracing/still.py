"""A frame with axes in pixels, for reading the line, the length and the water."""

from __future__ import annotations

from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from sinkbowl.common.errors import CaseError
from sinkbowl_post.style import PAPER, house_style, title
from sinkbowl_post.tracing.clip import opened

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LONGEST_SIDE = 11.0  # inches
LEAST_SIDE = 6.0
GRID = "#E4572E"
MARGINS = (1.1, 0.9, 0.3, 1.3)  # inches: left, foot, right, head

NEXT = """Read pixels from the still and give them, x from the left and y from the top:

  --line "x,y:x,y"            over the rim, from the background down to below the water
  --length "x,y:x,y = 60 mm"  two points whose distance you know, at the bowl, as near
                              to the line as can be
  --water y                   where still water meets the line
  --rim-height "60 mm"        the bowl's height, from base to rim
  --fps 240                   only if the clip plays more slowly than it was filmed"""


def still_figure(path: Path, number: int) -> Figure:
    """Frame of a clip, counted from 0, with axes in pixels and a fine grid over it.

    Raises
    ------
    CaseError : as for `opened`, or the clip ends before
    """
    from matplotlib.figure import Figure
    from matplotlib.ticker import AutoMinorLocator, MaxNLocator

    with opened(path) as (clip, frames):
        frame = next(islice(frames, number, None), None)
        if frame is None:
            raise CaseError("is after the end of the clip", file=path, key="--frame", given=number)
        grey = frame.copy()
    inches = LONGEST_SIDE / max(clip.width, clip.height)
    left, foot, right, head = MARGINS
    wide, high = clip.width * inches, clip.height * inches
    whole = (max(left + wide + right, LEAST_SIDE + 1.0), foot + high + head)
    with house_style():
        figure = Figure(figsize=whole)
        axes = figure.add_axes((left / whole[0], foot / whole[1], wide / whole[0], high / whole[1]))
        axes.imshow(grey, cmap="gray", vmin=0, vmax=255, interpolation="nearest")
        for axis, pixels in ((axes.xaxis, clip.width), (axes.yaxis, clip.height)):
            axis.set_major_locator(MaxNLocator(max(4, round(pixels * inches / 0.9)), integer=True))
            axis.set_minor_locator(AutoMinorLocator(5))
        axes.grid(True, which="major", color=GRID, alpha=0.55, linewidth=0.9)
        axes.grid(True, which="minor", color=PAPER, alpha=0.22, linewidth=0.5)
        axes.set(xlabel="x [pixels]", ylabel="y [pixels]")
        title(figure, f"Frame {number} of {clip.path.name}")
    return figure
