"""Parts of figures: slide, panels, bands, labels beside points, separated names, solids."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sinkbowl.bowl.ballast import outlines_of
from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result
from sinkbowl_post.style import HAIRLINE, MATERIALS, PAPER, SLIDE, house_style, title

Box = tuple[float, float, float, float]
"""Left, bottom, width and height of a panel, shares of the figure's."""

ROUND = (1, 2, 5, 10)  # steps between ticks, times a power of ten
WORDS = 16.0  # type size of text in a panel [pt]

ON_PAPER: dict[str, Any] = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1}
"""Background of labels over lines."""

UP_TO = (
    (1000.0, "wood"),
    (1450.0, "plastic"),
    (2600.0, "putty"),
    (8200.0, "steel"),
    (8750.0, "brass"),
    (9500.0, "copper"),
)
"""Density [kg/m^3] up to which each material is assumed, for the colour only (handbook values, from
memory)."""


@contextmanager
def slide(message: str, words: str = "", case: str = "") -> Iterator[Figure]:
    """A slide for the ``with`` block; arguments as those of `title`."""
    with house_style():
        figure = Figure(figsize=SLIDE)
        title(figure, message, words, case)
        yield figure


def panel(figure: Figure, box: Box, heading: str, **look: Any) -> Axes:
    """A panel with its heading above it; look: of the heading."""
    axes = figure.add_axes(box)
    axes.set_title(heading, loc="left", size=18, **look)
    return axes


def round_ticks(axis: Axis, most: int) -> None:
    """Round ticks with a maximum number of intervals, and short numbers."""
    axis.set_major_locator(MaxNLocator(most, steps=ROUND))
    axis.set_major_formatter(lambda value, _: f"{value:g}")


def band(
    axes: Axes, x: Any, low: Any, high: Any, colour: str = HAIRLINE, alpha: float = 0.55
) -> None:
    """A band along x, behind the curves."""
    axes.fill_between(x, low, high, color=colour, alpha=alpha, lw=0, zorder=0)


def note(
    axes: Axes, text: str, at: tuple[float, float], aside: tuple[float, float], **look: Any
) -> None:
    """Write beside a point, away from it.

    at : the point, in data units
    aside : from there to the text [pt]
    look : of the text, if not the default
    """
    across, up = aside
    usual = {
        "size": WORDS,
        "ha": "left" if across > 0 else "right" if across < 0 else "center",
        "va": "bottom" if up > 0 else "top" if up < 0 else "center",
    }
    axes.annotate(text, at, aside, textcoords="offset points", **(usual | look))


def write_inside(axes: Axes, x: float, y: float, text: str, **look: Any) -> None:
    """Write at a position in the panel, shares of its width and height."""
    usual: dict[str, Any] = {"size": WORDS, "va": "center"}
    axes.text(x, y, text, transform=axes.transAxes, **(usual | look))


@dataclass(frozen=True)
class EndName:
    """A curve's name, its colour, and the height of its end in data units."""

    text: str
    colour: str
    height: float


def write_end_names(axes: Axes, names: Sequence[EndName], size: float = WORDS) -> None:
    """Write the names right of the panel, each as near its curve's end as possible.

    Call it after the limits and position of the axes are set.
    """
    figure = axes.figure.get_figure(root=True)
    assert figure is not None
    tall = 72.0 * figure.get_figheight() * axes.get_position().height
    order = sorted(names, key=lambda name: name.height)
    low, high = axes.get_ylim()
    wanted = [(name.height - low) / (high - low) for name in order]
    lines = max(name.text.count("\n") + 1 for name in order)
    for name, place in zip(order, spread(wanted, 1.25 * size * lines / tall), strict=True):
        write_inside(axes, 1.02, place, name.text, color=name.colour, size=size)


def spread(
    wanted: Sequence[float], gap: float, low: float = -np.inf, high: float = np.inf
) -> list[float]:
    """Ascending positions nearest to wanted ones with a minimum gap (least squares).

    Positions minus rank times gap must increase (isotonic regression) within an interval.
    """
    from scipy.optimize import isotonic_regression  # slow to import; few figures need it

    ranks = gap * np.arange(len(wanted))
    level = isotonic_regression(np.asarray(wanted) - ranks).x
    return [float(place) for place in np.clip(level, low, high - ranks[-1]) + ranks]


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed outline (n, 2) of r, z [m] in the bowl frame, and its material."""

    outline: NDArray[np.float64]
    material: str

    @property
    def colours(self) -> tuple[str, str]:
        """Of its face and of its edge."""
        return MATERIALS[self.material]


def by_density(density: float) -> str:
    """The material that a density suggests."""
    return next((name for most, name in UP_TO if density <= most), "lead")


def solids_of(case: Case) -> list[Solid]:
    """The bowl, then each piece of its ballast."""
    bowl = case.bowl
    made_of = case.material or by_density(bowl.mass / bowl.solid_volume)
    found = [Solid(np.asarray(bowl.polygon), made_of)]
    for piece in case.ballast.pieces:
        found.append(Solid(piece.outline, piece.material or by_density(piece.density)))
    return found


def draw_solids(
    axes: Axes, solids: Sequence[Solid], draft: float = 0.0, **look: Any
) -> list[tuple[Polygon, NDArray[np.float64]]]:
    """Both halves of solids in section, the bowl's bottom at a depth; each with its outline."""
    drawn = []
    for solid in solids:
        face, edge = solid.colours
        for side in (1, -1):
            outline = solid.outline * (side, 1)
            half = Polygon(outline - (0.0, draft), fc=face, ec=edge, lw=1.6, **look)
            axes.add_patch(half)
            drawn.append((half, outline))
    return drawn


def result_solids(result: Result) -> list[Solid]:
    """The same from a run's file; brass if its case cannot be read."""
    outlines = [result.grid["outline"], *outlines_of(result.ballast_outline)]
    try:
        materials = [solid.material for solid in solids_of(result.case)]
    except ResultError:
        materials = []
    materials += ["brass"] * (len(outlines) - len(materials))
    return [Solid(outline, name) for outline, name in zip(outlines, materials, strict=False)]
