"""What is learnt from the map: the surface of ln(flow over heave), shipped beside the map's table.

surface.toml holds its constants and a row a bowl, made by ``python -m sinkbowl.mapping.fit``.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from sinkbowl.common.errors import ResultError
from sinkbowl.corrected.flow_map import TABLE
from sinkbowl.corrected.similarity import Likeness
from sinkbowl.corrected.surface import Surface

SURFACE = "surface.toml"

FLOOR = 0.003
"""Least standard deviation of ln(time) of flow over heave."""


@dataclass(frozen=True, eq=False)
class Learnt:
    """The surface; white: standard deviation of ln(time) about it where `Likeness.rough` is 1."""

    surface: Surface
    white: float

    def noise(self, like: Likeness) -> float:
        """Standard deviation of a bowl's ln(time) about the surface."""
        return float(np.hypot(self.white * np.sqrt(like.rough), FLOOR))


@cache
def learnt() -> Learnt:
    """What is shipped.

    Raises
    ------
    ResultError : it was not made of the shipped map
    """
    shipped = files(__package__)
    told = tomllib.loads(shipped.joinpath(SURFACE).read_text(encoding="utf-8"))
    if checksum(shipped.joinpath(TABLE).read_bytes()) != told["table_sha256"]:
        raise ResultError(f"{TABLE} and {SURFACE} do not belong together. Install sinkbowl again.")
    rows = np.array(told["rows"])
    surface = Surface(
        points=rows[:, :-3],
        scale=rows[:, -3],
        noise=rows[:, -2],
        values=rows[:, -1],
        amplitude=told["amplitude"],
        lengths=np.array(told["lengths"]),
    )
    return Learnt(surface, told["white"])


def checksum(table: bytes) -> str:
    """By which a surface knows its table."""
    return hashlib.sha256(table).hexdigest()
