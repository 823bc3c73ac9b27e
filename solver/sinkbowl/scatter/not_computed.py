"""What the flow solver leaves out, by the hole's width: the third dimension, and air closed off.

Ring vortices at the jet's edge stay whole without a third dimension and hold the jet back; a table
(not_computed.csv) says by how much that shifts the time. Where the fountain shuts a ring of air off
(d/D 0.3 to 0.7), the ring stays whole in the run, and breaks into bubbles in nature; if the run
takes it for a void, its resistance is missing.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.frozen import frozen

TABLE = "not_computed.csv"

RELEASE = 0.006
"""Half-width at 95 % by which two careful releases of one bowl differ, share of the time: runs in
three dimensions scatter by 0.2 to 0.4 % (ours, by another code, unpublished)."""


@dataclass(frozen=True)
class NotComputed:
    """Shares of the sinking time.

    shift: by which three dimensions move it; shift_half, air_half: half-widths at 95 % of that and
    by closed-off air.
    """

    shift: float
    shift_half: float
    air_half: float


def not_computed(ratio: float, air: str) -> NotComputed:
    """The table at d/D; linear between rows, beyond the last as there. air: "kept" or "void"."""
    rows, column = _rows(), 3 if air == "kept" else 4
    return NotComputed(*(float(np.interp(ratio, rows[:, 0], rows[:, k])) for k in (1, 2, column)))


@cache
def _rows() -> NDArray[np.float64]:
    text = files(__package__).joinpath(TABLE).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return frozen(np.array([[float(cell) for cell in row] for row in csv.reader(lines[1:])]))
