"""The three stages of the water in a bowl as a strip of bands over a time axis."""

from collections.abc import Sequence
from itertools import pairwise

from matplotlib.axes import Axes

from sinkbowl.reduced.stages import NAMES, Stages
from sinkbowl_post.drawing import WORDS, write_inside
from sinkbowl_post.style import LINES, time_unit

SHADES = (0.10, 0.30, 0.18)
"""Darkness of each band."""

LETTER = 0.6 * WORDS / 72.0
"""Width of a letter [in]."""

BESIDE = 1.3
"""Space right of the strip for the last name [in]."""


def draw_strip(axes: Axes, stages: Stages, until: float, end: float, model: Stages | None) -> None:
    """Bands of the flow's stages with their names, and the heave model's changes as ticks.

    Parameters
    ----------
    axes : as wide as the time axis below, a line high
    until : end of the last band [s]
    end : of the time axis [s]
    """
    factor, _ = time_unit(end)
    axes.set_axis_off()
    axes.set_xlim(0.0, end * factor)
    axes.set_ylim(0.0, 1.0)
    edges = [0.0, *(t for t in stages if t is not None and t < until), until]
    bands = [(k, a, b) for k, (a, b) in enumerate(pairwise(edges)) if b > a]
    for k, low, high in bands:
        colour, alpha = LINES["flow"].colour, SHADES[k]
        axes.axvspan(low * factor, high * factor, color=colour, alpha=alpha, lw=0)
    for time in model or ():
        if time is not None and time < end:
            x, colour = time * factor, LINES["heave"].colour
            axes.plot([x, x], [-0.4, 0.0], color=colour, linewidth=3.5, clip_on=False)
    names = [NAMES[k] for k, _, _ in bands]
    _write_names(axes, names, [0.0, *(high / end for _, _, high in bands)])


def _write_names(axes: Axes, names: list[str], edges: Sequence[float]) -> None:
    """Each name in its band; a name too long for it is in the last or first band, with an arrow."""
    figure = axes.figure.get_figure(root=True)
    assert figure is not None
    wide = figure.get_figwidth() * axes.get_position().width
    rooms = [wide * (b - a) for a, b in pairwise(edges)]
    rooms[-1] = wide * (1.0 - edges[-2]) + BESIDE
    fits = [_width(name) <= room for name, room in zip(names, rooms, strict=True)]
    loose = ", ".join(name for name, fit in zip(names, fits, strict=True) if not fit)
    if loose and fits[-1] and _width(f"\u2190 {loose}   {names[-1]}") <= rooms[-1]:
        names[-1] = f"\u2190 {loose}   {names[-1]}"
    elif loose and _width(f"{names[0]}   {loose} \u2192") <= rooms[0]:
        at, look = edges[1] - 0.06 / wide, {"color": LINES["flow"].colour, "ha": "right"}
        write_inside(axes, at, 0.46, f"{loose} \u2192", **look)
    for edge, name, fit in zip(edges, names, fits, strict=False):
        if fit:
            write_inside(axes, edge + 0.06 / wide, 0.46, name, color=LINES["flow"].colour)


def _width(name: str) -> float:
    return LETTER * len(name)
