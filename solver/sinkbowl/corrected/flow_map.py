"""The map: the flow solver's times of some hundred bowls, a table shipped with the package.

One row per bowl: dimensions, dimensionless numbers (similarity.py), mean and scatter of its runs,
and the heave model's times with the same jet. Only rows with use `MEASURED` or `KEPT_OUT` count.

A bowl of the map is a cone (a cup is an upright one) or a cap.
"""

from collections.abc import Mapping
from dataclasses import astuple, dataclass
from functools import cache
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case, parse_case
from sinkbowl.common.numerics import FrozenArrays
from sinkbowl.common.sinking import FloatArray
from sinkbowl.common.text_file import plain_rows, shipped_table
from sinkbowl.corrected.similarity import NAMES


@dataclass(frozen=True)
class MapBowl:
    """Dimensions of a bowl of the map; lengths [mm], mass [g].

    shape: "cone" or "cap"; radius, height: outer; wall: thickness; base_radius, base:
    of a cone, 0 for a cap; hole: its diameter.
    """

    shape: str
    radius: float
    height: float
    wall: float
    base_radius: float
    base: float
    hole: float
    mass: float

    @property
    def text(self) -> str:
        """Its case file."""
        lengths = {"radius": self.radius, "height": self.height, "wall": self.wall}
        if self.shape == "cone":
            lengths |= {"base_radius": self.base_radius, "base": self.base}
        return "\n".join(
            (
                f'title = "{self.name}"',
                "[bowl]",
                f'shape = "{self.shape}"',
                *(f'{key} = "{value:g} mm"' for key, value in lengths.items()),
                f'mass = "{self.mass:g} g"',
                "[hole]",
                f'diameter = "{self.hole:g} mm"',
            )
        )

    @property
    def name(self) -> str:
        """Unique name."""
        return " ".join(f"{part:g}" if isinstance(part, float) else part for part in astuple(self))

    def case(self) -> Case:
        """The case, set down on still water of 20 degrees; CaseError if the bowl is impossible."""
        return parse_case(self.text, Path(), self.name)


TABLE = "map.csv"

REPEATED = 3  # minimum number of releases whose scatter counts
MEASURED, KEPT_OUT = "fitted", "kept out"  # uses of a row


@dataclass(frozen=True)
class MapRow(FrozenArrays):
    """One bowl of the map.

    bowl : its dimensions
    use : "fitted", or "kept out" of the fit to test it
    members : releases
    time, half : mean times of rim under and of half of the way to it [s]
    scatter : standard deviation of the rim's times over their mean, nan for one release
    heave_time, heave_half : by the heave model, same wall and jet [s]
    numbers : (9,) dimensionless
    """

    bowl: MapBowl
    use: str
    members: int
    time: float
    half: float
    scatter: float
    heave_time: float
    heave_half: float
    numbers: FloatArray


@cache
def shipped_rows() -> tuple[MapRow, ...]:
    """Rows of the shipped map."""
    return tuple(map(_row, shipped_table(__package__, TABLE)))


def parsed(text: str) -> tuple[MapRow, ...]:
    """Rows of a table, without comments."""
    return tuple(map(_row, plain_rows(text)))


BOWL = (
    "radius [mm]",
    "height [mm]",
    "wall [mm]",
    "base radius [mm]",
    "base [mm]",
    "hole [mm]",
    "mass [g]",
)
TIMES = ("time [s]", "half [s]", "scatter", "heave time [s]", "heave half [s]")
COLUMNS = ("shape", *BOWL, "use", "members", *TIMES, *NAMES)  # headings of the table


def _row(line: Mapping[str, str]) -> MapRow:
    time, half, scatter, heave_time, heave_half = (float(line[name]) for name in TIMES)
    return MapRow(
        bowl=MapBowl(line["shape"], *(float(line[name]) for name in BOWL)),
        use=line["use"],
        members=int(line["members"]),
        time=time,
        half=half,
        scatter=scatter,
        heave_time=heave_time,
        heave_half=heave_half,
        numbers=np.array([float(line[name]) for name in NAMES]),
    )
