"""Names written at the right end of curves, moved apart where they would touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes


@dataclass(frozen=True)
class EndName:
    """A curve's name, its colour, and the height in data units at which the curve ends."""

    text: str
    colour: str
    height: float


def write_end_names(axes: Axes, names: Sequence[EndName], size: float = 16.0) -> None:
    """Write the names right of the panel, each as near its curve's end as the others allow.

    Call it when the axes have their limits and place.
    """
    figure = axes.figure.get_figure(root=True)
    assert figure is not None
    panel = 72.0 * figure.get_figheight() * axes.get_position().height
    order = sorted(names, key=lambda name: name.height)
    low, high = axes.get_ylim()
    wanted = [(name.height - low) / (high - low) for name in order]
    lines = max(name.text.count("\n") + 1 for name in order)
    for name, place in zip(order, spread(wanted, 1.25 * size * lines / panel), strict=True):
        axes.text(
            1.02,
            place,
            name.text,
            transform=axes.transAxes,
            color=name.colour,
            size=size,
            va="center",
        )


def spread(wanted: Sequence[float], gap: float) -> list[float]:
    """Ascending places as near the wanted ones as a gap between neighbours allows (least squares).

    Places less their rank times the gap must not fall: pool those that do (isotonic regression).
    """
    blocks: list[list[float]] = []
    for rank, place in enumerate(wanted):
        blocks.append([place - rank * gap])
        while len(blocks) > 1 and np.mean(blocks[-2]) > np.mean(blocks[-1]):
            last = blocks.pop()
            blocks[-1] += last
    level = [float(np.mean(block)) for block in blocks for _ in block]
    return [place + rank * gap for rank, place in enumerate(level)]
